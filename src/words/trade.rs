//! Words of the trade that plan, device and physics share: skin, site, ink and beam.

use super::words;

words! {
    /// Fitzpatrick skin type. Source: Fitzpatrick TB, Arch Dermatol 1988;124:869-871.
    FitzpatrickType, "skin type" {
        /// Always burns, never tans.
        I = "I",
        /// Burns easily, tans little.
        II = "II",
        /// Burns, then tans.
        III = "III",
        /// Burns a little, tans readily.
        IV = "IV",
        /// Rarely burns, tans darkly.
        V = "V",
        /// Never burns.
        VI = "VI",
    }
}

words! {
    /// Body site in the five classes of the Kirby-Desai scale.
    BodySite, "site" {
        /// Head and neck.
        HeadNeck = "head-neck",
        /// Upper trunk.
        UpperTrunk = "upper-trunk",
        /// Lower trunk.
        LowerTrunk = "lower-trunk",
        /// Upper arm or thigh.
        ProximalExtremity = "proximal-extremity",
        /// Forearm, hand, lower leg or foot.
        DistalExtremity = "distal-extremity",
    }
}

words! {
    /// Colour class of an ink as the eye sees it.
    InkColour, "ink colour" {
        /// Black.
        Black = "black",
        /// Dark blue.
        DarkBlue = "dark-blue",
        /// Light or sky blue.
        LightBlue = "light-blue",
        /// Green.
        Green = "green",
        /// Purple.
        Purple = "purple",
        /// Red.
        Red = "red",
        /// Orange.
        Orange = "orange",
        /// Yellow.
        Yellow = "yellow",
        /// Brown or tan.
        Brown = "brown",
        /// Skin-coloured.
        Flesh = "flesh",
        /// White or pastel.
        White = "white",
        /// Pink.
        Pink = "pink",
        /// Rust.
        Rust = "rust",
    }
}

impl InkColour {
    /// Inks that may turn dark at the first pulse (iron oxide, titanium dioxide), so that a test spot comes first.
    ///
    /// Source: Chang LY et al., Dermatol Sinica 2001;19:324-330; Leu FJ et al., Lasers Med Sci 2014.
    #[must_use]
    pub const fn may_darken(self) -> bool {
        matches!(self, Self::Brown | Self::Flesh | Self::White | Self::Pink | Self::Rust)
    }
}

words! {
    /// How much ink the skin holds.
    Density, "density" {
        /// Thin lines, little ink.
        Minimal = "minimal",
        /// Shading and lines.
        Moderate = "moderate",
        /// Dense, filled areas.
        Significant = "significant",
    }
}

words! {
    /// Shape of the beam across the spot.
    BeamProfile, "beam profile" {
        /// Even over the spot.
        Flat = "flat",
        /// Gaussian; the spot is the 1/e2 diameter and the centre is twice the average.
        Gaussian = "gaussian",
    }
}

words! {
    /// What the hand must do, most urgent last.
    Level, "advice level" {
        /// For the record.
        Note = "NOTE",
        /// Look at something.
        Check = "CHECK",
        /// Wait.
        Wait = "WAIT",
        /// Lower the setting.
        Lower = "LOWER",
        /// Stop.
        Stop = "STOP",
    }
}
