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
