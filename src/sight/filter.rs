//! Eyewear as what it lets through, from a file.

use super::observer::{d65, luminous_efficiency};
use super::{SAMPLES, Spectrum};
use crate::source::{self, FileKind, Problems, SourceText};
use crate::text::shown;
use crate::words::words;

/// What a file of eyewear says it is.
pub const KIND: FileKind = FileKind { kind: "fadewright eyewear", schema: 1 };

words! {
    /// The eyewear that comes with the program, by its tint: models, to see colours by.
    Tint, "eyewear" {
        /// As usual for 190 to 540 nm and 1064 nm.
        Orange = "orange",
        /// As usual for 755 nm.
        GreenBlue = "green-blue",
        /// As usual for 694 nm.
        BlueGreen = "blue-green",
        /// Pale and broad, as usual for 1064 nm alone.
        Grey = "grey",
        /// As usual where 532, 755 and 1064 nm are stopped.
        Brown = "brown",
        /// As usual for 585 and 595 nm.
        Magenta = "magenta",
        /// As usual where 532, 595 and 1064 nm are stopped.
        Red = "red",
        /// Without a tint.
        Clear = "clear",
    }
}

/// The keys of the table of transmission, in the order of [`Spectrum`].
const KEYS: [&str; SAMPLES] = [
    "380", "390", "400", "410", "420", "430", "440", "450", "460", "470", "480", "490", "500", "510", "520", "530",
    "540", "550", "560", "570", "580", "590", "600", "610", "620", "630", "640", "650", "660", "670", "680", "690",
    "700", "710", "720", "730", "740", "750", "760", "770", "780",
];

impl Tint {
    /// The text of its file.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Orange => include_str!("../../themes/filters/orange.toml"),
            Self::GreenBlue => include_str!("../../themes/filters/green-blue.toml"),
            Self::BlueGreen => include_str!("../../themes/filters/blue-green.toml"),
            Self::Grey => include_str!("../../themes/filters/grey.toml"),
            Self::Brown => include_str!("../../themes/filters/brown.toml"),
            Self::Magenta => include_str!("../../themes/filters/magenta.toml"),
            Self::Red => include_str!("../../themes/filters/red.toml"),
            Self::Clear => include_str!("../../themes/filters/clear.toml"),
        }
    }
}

/// What a filter lets through.
#[derive(Debug, Clone, PartialEq)]
pub struct Filter {
    name: String,
    about: String,
    transmission: Spectrum,
}

impl Filter {
    /// No filter at all.
    #[must_use]
    pub fn none() -> Self {
        Self { name: "none".to_owned(), about: String::new(), transmission: Spectrum::flat(1.0) }
    }

    /// A filter with this transmission; none unless every value is a share from 0 to 1.
    #[must_use]
    pub fn of(name: &str, transmission: Spectrum) -> Option<Self> {
        let whole = transmission.by_nm().all(|(_, share)| (0.0..=1.0).contains(&share));
        whole.then(|| Self { name: name.to_owned(), about: String::new(), transmission })
    }

    /// Eyewear that comes with the program.
    ///
    /// # Errors
    /// None for the files as shipped, which tests see to.
    pub fn shipped(tint: Tint) -> Result<Self, Problems> {
        Self::load(&SourceText::new(format!("{tint}.toml"), tint.text()))
    }

    /// Reads eyewear from a file: the share of light let through at each of 380, 390, ... 780 nm.
    ///
    /// # Errors
    /// Every mistake of the file: a wavelength that is missing, unknown or there twice, a share outside 0 to 1.
    pub fn load(source: &SourceText) -> Result<Self, Problems> {
        let loaded = source::read(source, KIND, |file| {
            let name = file.text("name", 40);
            let about = file.text("about", 200);
            let transmission = file.table("transmission_by_nm", |table| {
                let mut values = [0.0; SAMPLES];
                let mut whole = true;
                for (key, slot) in KEYS.into_iter().zip(&mut values) {
                    let share = table.number(key, "0.85, the share of light let through");
                    match share {
                        Some(share) if (0.0..=1.0).contains(&share) => *slot = share,
                        Some(share) => {
                            let told = format!(
                                "{share} is outside 0 to 1; write the share of light let through, 10^-OD where the \
                                 data sheet gives an optical density"
                            );
                            table.problem(key, &told);
                            whole = false;
                        }
                        None => whole = false,
                    }
                }
                whole.then_some(Spectrum::new(values))
            });
            Some(Self { name: shown(&name?), about: shown(&about?), transmission: transmission? })
        })?;
        Ok(loaded.value)
    }

    /// Its name, safe to show.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// What it is, safe to show.
    #[must_use]
    pub fn about(&self) -> &str {
        &self.about
    }

    /// The share of light let through, 0 to 1.
    #[must_use]
    pub const fn transmission(&self) -> &Spectrum {
        &self.transmission
    }

    /// Visible light transmission, the share of daylight that the eye is left, 0 to 1:
    /// sum(tau V D65) / sum(V D65), as EN 207 defines it.
    #[must_use]
    pub fn vlt(&self) -> f64 {
        let seen = d65().times(luminous_efficiency());
        seen.times(&self.transmission).sum() / seen.sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::words::Word;
    use proptest::prelude::*;

    fn told(text: &str) -> Vec<String> {
        let problems = Filter::load(&SourceText::new("own.toml", text)).unwrap_err();
        problems.list().iter().map(ToString::to_string).collect()
    }

    #[test]
    fn every_shipped_filter_loads_under_its_own_name_and_says_that_it_is_a_model() {
        for tint in Tint::ALL.iter().copied() {
            let filter = Filter::shipped(tint).unwrap_or_else(|e| panic!("{}", e.explained()));
            assert_eq!(filter.name(), tint.word());
            assert!(filter.about().starts_with("a model"), "{}", filter.about());
        }
    }

    #[test]
    fn keys_are_the_wavelengths_of_spectra() {
        for ((nm, _), key) in Spectrum::flat(1.0).by_nm().zip(KEYS) {
            assert_eq!(key.parse(), Ok(nm));
        }
    }

    #[test]
    fn a_missing_a_double_and_a_strange_wavelength_are_told_with_their_place() {
        let clear = Tint::Clear.text();
        let all = told(&clear.replace("550 = 0.92\n", ""));
        assert_eq!(all.len(), 1, "{all:?}");
        assert!(all[0].contains("transmission_by_nm.550: missing"), "{all:?}");
        let all = told(&clear.replace("550 = 0.92\n", "550 = 0.92\n550 = 0.9\n"));
        assert!(all[0].starts_with("own.toml:30:1: ") && all[0].contains("stands twice"), "{all:?}");
        let all = told(&clear.replace("550 = 0.92\n", "550 = 0.92\n555 = 0.9\n"));
        assert!(all[0].contains("transmission_by_nm.555: unknown key"), "{all:?}");
    }

    #[test]
    fn a_share_outside_nought_to_one_is_refused() {
        for share in ["1.2", "-0.1", "nan", "inf", "92"] {
            let all = told(&Tint::Clear.text().replace("550 = 0.92\n", &format!("550 = {share}\n")));
            assert_eq!(all.len(), 1, "{share}: {all:?}");
            assert!(all[0].contains("transmission_by_nm.550:") && all[0].contains("outside 0 to 1"), "{all:?}");
        }
        assert!(Filter::of("x", Spectrum::flat(1.1)).is_none() && Filter::of("x", Spectrum::flat(f64::NAN)).is_none());
    }

    #[test]
    fn visible_light_transmission_of_grey_glass_is_its_share() {
        let vlt = Filter::of("grey", Spectrum::flat(0.3)).unwrap().vlt();
        assert!((vlt - 0.3).abs() < 1e-12, "{vlt}");
        assert!((Filter::none().vlt() - 1.0).abs() < 1e-12);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn any_text_is_read_or_refused(text in "\\PC*|[a-z_={}\\[\\]\".\\n #0-9]{0,80}") {
            let _ = Filter::load(&SourceText::new("any", text));
        }
    }
}
