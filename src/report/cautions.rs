//! The usual cautions, as every report carries them.

/// What every report for the clinic says.
pub const CAUTIONS: [&str; 4] = [
    "The program advises trained, licensed people; it drives no device. The device's manual, the clinic's protocol and \
     local law come first. Not certified as a medical device.",
    "This report shows what was entered and counted. Silence means that nothing was flagged from what was entered; it \
     does not mean \"safe\".",
    "A sound chain shows that nothing was changed by accident or by an editor. It is no proof against someone who can \
     rewrite the whole file.",
    "The client is a code. Keep the report as the clinic keeps its records.",
];
