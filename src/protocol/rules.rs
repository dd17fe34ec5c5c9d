//! The rules by name, and what a clinic may say about them.

use crate::words::{Level, words};
use serde::{Deserialize, Serialize};

words! {
    /// A rule of advice. The names never change: journals hold them.
    RuleName, "rule" {
        /// Pinpoint bleeding.
        PinpointBleeding = "pinpoint-bleeding",
        /// Bleeding again after a lowering.
        BleedingAfterLowering = "bleeding-after-lowering",
        /// Bleeding after two lowerings.
        BleedingPersists = "bleeding-persists",
        /// Bleeding with the handpiece off its spacer.
        BleedingOffSpacer = "bleeding-off-spacer",
        /// The handpiece left its spacer.
        OffSpacer = "off-spacer",
        /// Tissue is thrown out.
        TissueSplatter = "tissue-splatter",
        /// Purpura at a wavelength that blood takes up.
        WidePurpura532 = "wide-purpura-532",
        /// Purpura at other wavelengths.
        WidePurpura = "wide-purpura",
        /// Fierce whitening.
        WhiteningFierce = "whitening-fierce",
        /// A wet surface.
        WetSurface = "wet-surface",
        /// Marked swelling.
        MarkedSwelling = "marked-swelling",
        /// Pain that rises from entry to entry.
        PainRising = "pain-rising",
        /// Severe pain.
        PainSevere = "pain-severe",
        /// Sparks, or pits that bleed.
        SparksOrPits = "sparks-or-pits",
        /// Blue-grey spots.
        BlueGrey = "blue-grey",
        /// The ink turns dark.
        Darkening = "darkening",
        /// The epidermis separates.
        EpidermalSeparation = "epidermal-separation",
        /// A blister.
        Blister = "blister",
        /// Wheals.
        Wheals = "wheals",
        /// Signs beyond the skin.
        SystemicSigns = "systemic-signs",
        /// No whitening in the first pulses.
        NoWhitening = "no-whitening",
        /// Still no whitening after the wait.
        NoWhiteningAfterWait = "no-whitening-after-wait",
        /// No response in a later pass.
        NoResponseLaterPass = "no-response-later-pass",
        /// More overlap than planned.
        OverlapBeyondPlan = "overlap-beyond-plan",
        /// Far more pulses than planned.
        PulsesFarBeyondPlan = "pulses-far-beyond-plan",
        /// Pulses on one place.
        PulsesOnOnePlace = "pulses-on-one-place",
        /// Count and device counter differ.
        CountersApart = "counters-apart",
        /// A pass more than planned.
        PassBeyondPlan = "pass-beyond-plan",
        /// A pass ended with few pulses.
        PassSparse = "pass-sparse",
        /// A pass began too soon.
        PassTooSoon = "pass-too-soon",
        /// Pulses on white skin.
        WhiteningMasksTarget = "whitening-masks-target",
        /// Few weeks since the last session.
        IntervalShort = "interval-short",
        /// The session is long.
        SessionLong = "session-long",
        /// Recording went on after a break.
        ResumedAfterBreak = "resumed-after-break",
        /// Pulses before the anaesthetic works.
        AnaestheticNotWorking = "anaesthetic-not-working",
        /// Anaesthetic cream is on for too long.
        AnaestheticTooLong = "anaesthetic-too-long",
        /// A changed setting was not read back.
        SettingNotReadBack = "setting-not-read-back",
        /// Spot, wavelength or pulse duration changed.
        NotComparable = "not-comparable",
        /// Raised after a lowering.
        RaisedAfterLowering = "raised-after-lowering",
        /// Close to the ceiling.
        NearCeiling = "near-ceiling",
        /// A wavelength that does little to this ink.
        WavelengthPoor = "wavelength-poor",
        /// A short wavelength on dark skin.
        DarkSkinWavelength = "dark-skin-wavelength",
        /// As high as last time, when that was too much.
        AboveLastSession = "above-last-session",
        /// Ink that may turn dark.
        MayDarken = "may-darken",
        /// Keloid tendency without a test spot.
        KeloidWithoutTest = "keloid-without-test",
        /// Bleeding with an anticoagulant.
        AnticoagulantBleeding = "anticoagulant-bleeding",
        /// Light-sensitive epilepsy.
        LightSensitiveEpilepsy = "light-sensitive-epilepsy",
        /// Eyewear, door or another condition of the room was withdrawn.
        ConditionWithdrawn = "condition-withdrawn",
        /// The limit of the anaesthetic.
        AnaestheticLimit = "anaesthetic-limit",
        /// The device's counter began anew.
        CounterRestarted = "counter-restarted",
        /// Read-backs keep failing.
        ReadBackFailing = "read-back-failing",
        /// A train was cut by a gap of the clock.
        TrainCut = "train-cut",
    }
}

/// What a clinic says about a rule: it may make one more urgent, never less.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct RuleChoice {
    /// The rule.
    pub rule: RuleName,
    /// Its level is at least this.
    pub at_least: Level,
    /// Why the clinic wants it so.
    pub reason: String,
}
