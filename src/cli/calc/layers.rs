//! Files of plane layers: `n_above`, `n_below` and `[[layer]]` with `n`, `mua_per_cm`, `mus_per_cm`, `g` and
//! `thickness_cm`.

use crate::physics::{Layer, Stack, StackError};
use crate::source::{self, Problems, SourceText, Table};

/// Reads a file of layers.
pub(super) fn load(source: &SourceText) -> Result<Stack, Problems> {
    source::read_plain(source, |file| {
        let n_above = file.number("n_above", "1.0");
        let n_below = file.number("n_below", "1.0");
        // A hair more than can be computed, so that the refusal can say how many can.
        let layers = file.tables("layer", 1..=Stack::MAX_LAYERS, layer);
        let stack = Stack::new(n_above?, n_below?, layers?);
        stack.map_err(|e| refuse(file, &e)).ok()
    })
    .map(|loaded| loaded.value)
}

fn layer(t: &mut Table<'_>) -> Option<Layer> {
    let n = t.number("n", "1.4");
    let mua_per_cm = t.number("mua_per_cm", "0.5");
    let mus_per_cm = t.number("mus_per_cm", "150.0");
    let g = t.number("g", "0.9");
    let thickness_cm = t.number("thickness_cm", "0.1, or inf for a last layer without an end");
    let layer = Layer { n: n?, mua_per_cm: mua_per_cm?, mus_per_cm: mus_per_cm?, g: g?, thickness_cm: thickness_cm? };
    // One layer alone is judged here, so that every layer's mistakes are told at once and at their place.
    match Stack::new(1.0, 1.0, vec![layer]) {
        Err(e @ StackError::OutOfRange { field, .. }) => {
            t.problem(field, &e.to_string());
            None
        }
        _ => Some(layer),
    }
}

/// Tells what only the whole stack shows, at the place it belongs to.
fn refuse(file: &Table<'_>, error: &StackError) {
    match error {
        StackError::OutOfRange { layer: None, field, .. } => file.problem(field, &error.to_string()),
        StackError::OutOfRange { layer: Some(layer), .. } => file.problem("layer", &format!("layer {layer}: {error}")),
        _ => file.problem("layer", &error.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = "n_above = 1.0\nn_below = 1\n[[layer]]\nn = 1.4\nmua_per_cm = 1\nmus_per_cm = 100.0\ng = 0.9\n\
                        thickness_cm = 0.1\n[[layer]]\nn = 1.37\nmua_per_cm = 0.5\nmus_per_cm = 150.0\ng = 0.85\n\
                        thickness_cm = inf\n";

    fn problems(text: &str) -> String {
        load(&SourceText::new("layers.toml", text)).unwrap_err().explained()
    }

    #[test]
    fn layers_are_read_in_order() {
        let stack = load(&SourceText::new("layers.toml", GOOD)).unwrap();
        assert_eq!(stack.layers().len(), 2);
        assert!(stack.layers()[0].g > 0.89 && stack.thickness_cm().is_infinite());
    }

    #[test]
    fn each_mistake_is_told_with_its_line_and_field() {
        for (from, to, line, words) in [
            ("mua_per_cm = 1\n", "mua_per_cm = -1\n", 5, "mua_per_cm"),
            ("mus_per_cm = 100.0", "mus_per_cm = nan", 6, "mus_per_cm"),
            ("g = 0.9", "g = 1.0", 7, "above -1 and below 1"),
            ("thickness_cm = 0.1", "thickness_cm = 0", 8, "above 0"),
            ("thickness_cm = 0.1", "thickness_cm = inf", 3, "layer 1"),
            ("mua_per_cm = 0.5", "mua_per_cm = 0.0", 3, "for ever"),
            ("n_above = 1.0", "n_above = 0.2", 1, "n_above"),
            ("n_above = 1.0", "n_abve = 1.0", 1, "n_above"),
            ("n = 1.4", "n = \"1.4\"", 4, "number"),
            ("g = 0.9\n", "", 3, "missing"),
            ("n = 1.37", "n = 1.37\ndepth_cm = 3", 11, "unknown key"),
        ] {
            let told = problems(&GOOD.replacen(from, to, 1));
            assert!(told.contains(&format!("layers.toml:{line}:")) && told.contains(words), "{to}: {told}");
        }
        // Two at once.
        let told = problems(&GOOD.replace("g = 0.9", "g = 2").replace("n = 1.37", "n = 9"));
        assert!(told.contains(":7:") && told.contains(":10:"), "{told}");
        assert!(problems("n_above = 1\nn_below = 1\n").contains("[[layer]]"));
    }
}
