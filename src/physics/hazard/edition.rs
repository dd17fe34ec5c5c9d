//! Which family of limits is meant.

use crate::words::words;

words! {
    /// A family of exposure limits that agree with each other.
    Edition, "edition" {
        /// IEC 60825-1:2007, ANSI Z136.1-2007, ICNIRP 1996 and 2000, Directive 2006/25/EC: the law at work in the EU.
        Of2007 = "2007",
        /// ICNIRP 2013, IEC 60825-1:2014, ANSI Z136.1-2014.
        Of2014 = "2014",
    }
}

words! {
    /// Which limits to hold to.
    EditionChoice, "edition" {
        /// The 2007 family alone.
        Only2007 = "2007",
        /// The 2013/2014 family alone.
        Only2014 = "2014",
        /// Both, each with its own rules for repeated pulses; the lower limit counts.
        Stricter = "stricter",
    }
}

impl Edition {
    /// The standards of the family.
    #[must_use]
    pub const fn standards(self) -> &'static str {
        match self {
            Self::Of2007 => "IEC 60825-1:2007, 2006/25/EC",
            Self::Of2014 => "ICNIRP 2013, IEC 60825-1:2014",
        }
    }
}

impl EditionChoice {
    /// The editions that are evaluated; on a tie the first one is named.
    #[must_use]
    pub const fn editions(self) -> &'static [Edition] {
        match self {
            Self::Only2007 => &[Edition::Of2007],
            Self::Only2014 => &[Edition::Of2014],
            Self::Stricter => &[Edition::Of2007, Edition::Of2014],
        }
    }
}
