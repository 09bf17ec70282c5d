"""What can hurt someone at the laser; shown on every report and in every file to burn."""

CAUTIONS = (
    "Burn only vegetable-tanned leather known to be free of chrome.",
    "Chrome-tanned leather can release hexavalent chromium, which causes cancer.",
    'PVC or vinyl "leather" releases hydrogen chloride, which harms lungs and machine.',
    "Extract the smoke to the outside or through a filter made for it.",
    "Never leave a burning job alone, and keep a fire extinguisher within reach.",
    "Run the laser only inside its closed, interlocked enclosure (IEC 60825-1) and as its own manual says.",
    "Local rules and codes and the machine's maker come before anything this tool says.",
)

AT_THE_OPEN_BED = (
    "Switch the laser off before you open the lid for the photo, and do not lean or reach into an open machine.",
    "Leave the panel exactly where it lies from the photo until it is burnt.",
    "Before burning, run the pointer, or a frame at the lowest power, around the job with the lid closed, and see that"
    " it keeps to the leather.",
)
"""Besides, where a file is turned to fit a photo of the bed."""
