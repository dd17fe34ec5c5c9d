//! Anaesthetics of a session: typed one by one, added up, and timed.

use super::event::Verdict;
use super::state::State;
use crate::anaesthetic::{
    CREAM_ONSET_MIN, Circumstances, CreamStage, Dose, Judgement, Limits, cream_stage, judge, limits_in_years,
};
use crate::units::{CreamMass, DrugMass, SkinArea, SolutionVolume, Strength, TimeOnSkin, trimmed};
use std::str::FromStr;

/// A dose as it was typed, and when.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Given {
    /// Sequence number.
    pub seq: u64,
    /// Session time at which it was typed.
    pub ms: u64,
    /// The dose; a cream's time is the one typed.
    pub dose: Dose,
}

/// How doses are typed.
pub const DOSE_LIKE: &str =
    "cream 10 g 100 cm2 40 min, or lidocaine 100 mg, or lidocaine 1 % 10 mL, each with epinephrine if so";

/// A dose from what was typed: words and quantities in any order. A cream without a time was put on just now.
///
/// # Errors
/// In words, naming what is missing or not understood.
pub fn dose(typed: &str) -> Result<Dose, String> {
    let like = |what: String| format!("{what}; type it like: {DOSE_LIKE}");
    let words: Vec<String> = typed.split([' ', ',', ';']).filter(|w| !w.is_empty()).map(str::to_lowercase).collect();
    let (mut cream, mut lidocaine, mut epinephrine) = (false, false, false);
    let mut left = Vec::new();
    for word in &words {
        match word.as_str() {
            "cream" => cream = true,
            "lidocaine" => lidocaine = true,
            "epinephrine" | "adrenaline" => epinephrine = true,
            "with" | "and" | "on" | "for" | "of" | "plain" | "without" => {}
            _ => left.push(word.as_str()),
        }
    }
    if words.iter().any(|w| w == "without") {
        epinephrine = false;
    }
    let mut amounts = Amounts::default();
    let mut rest = left.into_iter().peekable();
    while let Some(word) = rest.next() {
        // "10 g" and "10g" are one amount.
        let number = word.chars().all(|c| c.is_ascii_digit() || c == '.');
        let text = match rest.peek().filter(|_| number) {
            Some(unit) => format!("{word} {unit}"),
            None => word.to_owned(),
        };
        if text.contains(' ') {
            rest.next();
        }
        amounts.take(&text, cream).map_err(like)?;
    }
    match (cream, lidocaine) {
        (true, false) if epinephrine => Err(like("a cream holds no epinephrine".to_owned())),
        (true, false) => {
            let mass = amounts.grams.ok_or_else(|| like("how many grams of cream?".to_owned()))?;
            let area = amounts.area.ok_or_else(|| like("on how many cm2 of skin?".to_owned()))?;
            let time = match amounts.time {
                Some(time) => time,
                None => TimeOnSkin::new(0.0).map_err(|e| e.to_string())?,
            };
            Ok(Dose::Cream { mass, area, time })
        }
        (false, true) => match (amounts.milligrams, amounts.strength, amounts.volume) {
            (Some(mass), None, None) => Ok(Dose::Lidocaine { mass, epinephrine }),
            (None, Some(strength), Some(volume)) => {
                Dose::solution(strength, volume, epinephrine).map_err(|e| e.to_string())
            }
            (None, None, None) => Err(like("how many mg?".to_owned())),
            _ => Err(like("either mg, or per cent and mL".to_owned())),
        },
        _ => Err(like("which one: cream or lidocaine?".to_owned())),
    }
}

#[derive(Default)]
struct Amounts {
    grams: Option<CreamMass>,
    area: Option<SkinArea>,
    time: Option<TimeOnSkin>,
    milligrams: Option<DrugMass>,
    strength: Option<Strength>,
    volume: Option<SolutionVolume>,
}

impl Amounts {
    fn take(&mut self, text: &str, cream: bool) -> Result<(), String> {
        fn put<T: FromStr<Err: ToString>>(slot: &mut Option<T>, text: &str) -> Result<(), String> {
            let value = text.parse::<T>().map_err(|e| e.to_string())?;
            match slot.replace(value) {
                None => Ok(()),
                Some(_) => Err(format!("'{text}' is a second amount of its kind; type one dose at a time")),
            }
        }
        let unit = text.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.').trim();
        match unit {
            "g" if cream => put(&mut self.grams, text),
            "cm2" | "cm²" => put(&mut self.area, text),
            "min" | "h" => put(&mut self.time, text),
            "mg" | "g" => put(&mut self.milligrams, text),
            "%" => put(&mut self.strength, text),
            "ml" => put(&mut self.volume, text),
            _ => Err(format!("'{text}' is not understood")),
        }
    }
}

/// How the doses of a session stand.
#[derive(Debug, Clone, PartialEq)]
pub struct Anaesthesia {
    /// What this client may get.
    pub limits: Limits,
    /// The doses, with their creams' time on the skin now.
    pub doses: Vec<Dose>,
    /// Against the limits.
    pub judged: Judgement,
    /// How far the latest cream has come.
    pub cream: Option<(CreamStage, f64)>,
}

impl State {
    /// The client's limits and the doses of the session at a session time; none when age or weight allow no limits.
    #[must_use]
    pub fn anaesthesia(&self, ms: u64) -> Option<Anaesthesia> {
        let client = &self.opened.plan.client;
        let limits = limits_in_years(u16::from(client.age_years), client.weight.kg()).ok()?;
        // Cream comes off before the first pulse.
        let until = self.happenings.first_pulse_ms.map_or(ms, |first| first.min(ms));
        let now = |g: &Given| match g.dose {
            Dose::Cream { mass, area, time } => {
                let minutes = time.minutes() + until.saturating_sub(g.ms) as f64 / 60_000.0;
                let time = TimeOnSkin::new(minutes).unwrap_or(time);
                Dose::Cream { mass, area, time }
            }
            dose @ Dose::Lidocaine { .. } => dose,
        };
        let doses: Vec<Dose> = self.anaesthetics.iter().map(now).collect();
        let latest = doses.iter().rev().find_map(|d| match d {
            Dose::Cream { time, .. } => Some(*time),
            Dose::Lidocaine { .. } => None,
        });
        let cream = latest.map(|time| (cream_stage(&limits, time), time.minutes()));
        let judged = judge(&limits, &doses);
        Some(Anaesthesia { limits, doses, judged, cream })
    }

    /// What another dose comes to together with those given before: within the limits or not, in words.
    #[must_use]
    pub fn judge_dose(&self, dose: Dose) -> (Verdict, String) {
        let Some(before) = self.anaesthesia(self.last_ms()) else {
            return (Verdict::Block, "no limit is known for this age and weight: ask the prescriber".to_owned());
        };
        let mut doses = before.doses;
        doses.push(dose);
        let judged = judge(&before.limits, &doses);
        let mut found: Vec<String> = judged.findings.iter().map(|f| f.text.clone()).collect();
        let known = Circumstances::of(&self.opened.plan.history);
        if known.methaemoglobinaemia && matches!(dose, Dose::Cream { .. }) {
            found.push("Methaemoglobinaemia or G6PD deficiency: no prilocaine cream; ask the prescriber.".to_owned());
        }
        if found.is_empty() {
            let percent = (100.0 * judged.sum_of_limits).ceil();
            (Verdict::Pass, format!("{} dose(s), {} % of the limit", doses.len(), trimmed(percent, 0)))
        } else {
            (Verdict::Block, found.join(" "))
        }
    }
}

impl Anaesthesia {
    /// What this client may get of each alone, in one line.
    #[must_use]
    pub fn limit_words(&self) -> String {
        let l = &self.limits;
        format!(
            "At most: cream {} g, {} cm2, {} h; lidocaine {} mg, or {} mg with epinephrine",
            trimmed(l.cream.max_g, 1),
            trimmed(l.cream.max_area_cm2, 0),
            trimmed(l.cream.max_minutes() / 60.0, 1),
            trimmed(l.lidocaine_mg, 0),
            trimmed(l.lidocaine_epinephrine_mg, 0)
        )
    }

    /// What was given, how much of the limit that is, and what the clock says about a cream.
    #[must_use]
    pub fn given_words(&self) -> String {
        if self.doses.is_empty() {
            return "Given: nothing typed yet".to_owned();
        }
        let doses = self.doses.iter().map(Dose::words).collect::<Vec<_>>().join(", ");
        let percent = trimmed((100.0 * self.judged.sum_of_limits).ceil(), 0);
        let clock = self.cream_words().map(|w| format!("; {w}")).unwrap_or_default();
        format!("Given: {doses}; {percent} % of the limit{clock}")
    }

    /// What the clock says about the cream that was put on last.
    #[must_use]
    pub fn cream_words(&self) -> Option<String> {
        let (stage, minutes) = self.cream?;
        let left = |until: f64| trimmed((until - minutes).max(0.0).ceil(), 0);
        Some(match stage {
            CreamStage::NotYet => format!("cream works in {} min", left(CREAM_ONSET_MIN.value)),
            CreamStage::Working => format!("cream works, off within {} min", left(self.limits.cream.max_minutes())),
            CreamStage::RemoveNow => "CREAM OFF NOW: its longest time is over".to_owned(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dose_is_read_however_it_is_typed() {
        let cream = |g, cm2, min| Dose::Cream {
            mass: CreamMass::new(g).unwrap(),
            area: SkinArea::new(cm2).unwrap(),
            time: TimeOnSkin::new(min).unwrap(),
        };
        for typed in ["cream 10 g 100 cm2 40 min", "Cream 10g on 100cm2 for 40min", "cream 100 cm2, 40 min, 10 g"] {
            assert_eq!(dose(typed), Ok(cream(10.0, 100.0, 40.0)), "{typed}");
        }
        assert_eq!(dose("cream 2.5 g 20 cm2"), Ok(cream(2.5, 20.0, 0.0)));
        let lidocaine = |mg, epinephrine| Dose::Lidocaine { mass: DrugMass::new(mg).unwrap(), epinephrine };
        assert_eq!(dose("lidocaine 100 mg"), Ok(lidocaine(100.0, false)));
        assert_eq!(dose("lidocaine 1 % 10 mL with epinephrine"), Ok(lidocaine(100.0, true)));
        assert_eq!(dose("lidocaine 80mg without epinephrine"), Ok(lidocaine(80.0, false)));
    }

    #[test]
    fn what_is_missing_or_not_understood_is_said() {
        for (typed, said) in [
            ("", "which one"),
            ("cream", "how many grams"),
            ("cream 10 g", "how many cm2"),
            ("cream 10 g 5 g 20 cm2", "second amount"),
            ("cream 10 g 20 cm2 epinephrine", "no epinephrine"),
            ("lidocaine", "how many mg"),
            ("lidocaine 100 mg 1 % 10 ml", "either mg"),
            ("lidocaine 1 %", "either mg"),
            ("lidocaine some", "'some' is not understood"),
            ("lidocaine -5 mg", "not understood"),
            ("lidocaine 100", "not understood"),
            ("cream lidocaine 10 g", "which one"),
            ("cream 99999 g 20 cm2", "99999"),
        ] {
            let told = dose(typed).unwrap_err();
            assert!(told.contains(said), "{typed}: {told}");
        }
    }
}
