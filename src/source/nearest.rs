//! The nearest known word to one that was mistyped.

/// The allowed word that a mistyped one most likely meant; none when nothing is close.
#[must_use]
pub fn nearest<'a>(given: &str, allowed: &[&'a str]) -> Option<&'a str> {
    // Longer than any word of ours: comparing would only cost time.
    if given.chars().count() > 48 {
        return None;
    }
    let plain = |word: &str| word.to_lowercase().replace('_', "-");
    let given = plain(given);
    allowed
        .iter()
        .map(|word| (strsim::damerau_levenshtein(&given, &plain(word)), *word))
        .filter(|(distance, word)| *distance <= word.len().div_ceil(4) && *distance < word.len())
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, word)| word)
}

/// `did you mean 'black'? Allowed: black, dark-blue, ...`, the part after a message that names the wrong word.
pub(super) fn hint(given: &str, allowed: &[&str]) -> String {
    let list = allowed.join(", ");
    match nearest(given, allowed) {
        Some(word) => format!("did you mean '{word}'? Allowed: {list}"),
        None => format!("allowed: {list}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_of_the_finger_is_understood_and_a_stranger_is_not() {
        let keys = ["fluence", "spot", "rate", "pulse_duration", "pass_spacing", "I", "II"];
        assert_eq!(nearest("flunce", &keys), Some("fluence"));
        assert_eq!(nearest("Spot", &keys), Some("spot"));
        assert_eq!(nearest("pulse-duration", &keys), Some("pulse_duration"));
        assert_eq!(nearest("spto", &keys), Some("spot"));
        assert_eq!(nearest("operator", &keys), None);
        assert_eq!(nearest("x", &keys), None);
        assert_eq!(nearest("code", &["zone", "kind"]), None);
        assert_eq!(nearest(&"fluence".repeat(100_000), &keys), None);
    }
}
