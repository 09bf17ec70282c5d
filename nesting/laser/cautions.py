"""What can hurt someone at the laser; shown on every report and in every file to burn."""

CAUTIONS = (
    "Burn only vegetable-tanned leather known to be free of chrome: chrome-tanned leather can release hexavalent chromium.",
    "Never burn PVC or vinyl \"leather\": it releases hydrogen chloride, which harms lungs and machine.",
    "Extract the smoke to the outside or through a filter made for it, and keep the lid shut.",
    "Never leave a burning job alone; keep a fire extinguisher within reach.",
    "Run the laser only in its enclosure as IEC 60825-1 and the machine's own manual ask.",
    "Local rules, the machine's maker and licensed practice come before anything this tool says.",
)
