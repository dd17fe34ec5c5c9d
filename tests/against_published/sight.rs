//! Colours through eyewear against an independent library and against the table of the facts.

use fadewright::sight::{Display, Filter, Spectrum, Srgb, Tint, View};
use fadewright::words::Word;

fn colour(text: &str) -> Srgb {
    let part = |at: usize| u8::from_str_radix(&text[at..at + 2], 16).unwrap();
    Srgb([part(1), part(3), part(5)])
}

/// `colour.csv`: colour-science 0.4.7 with its 1 nm observer, D65 at 1 nm and the filters from their formulas
/// (`tests/reference/colour_reference.py`). Ours are sums over 10 nm; the steepest edge, orange's, costs most.
#[test]
fn brightness_through_each_filter_and_its_vlt_are_the_library_s() {
    let mut seen = 0;
    for row in include_str!("colour.csv").lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        let filter = Filter::shipped(Tint::from_word(cells[0]).unwrap()).unwrap();
        let theirs: f64 = cells[3].parse().unwrap();
        let ours = match Display::from_word(cells[1]) {
            None => filter.vlt(),
            Some(display) => View::new(&filter, display).luminance(colour(cells[2])),
        };
        assert!((ours - theirs).abs() < 1e-3, "{row}: {ours}");
        seen += 1;
    }
    assert_eq!(seen, Tint::ALL.len() * (1 + 2 * 12));
}

fn opens(middle: f64, width: f64) -> impl Fn(f64) -> f64 {
    move |nm| 1.0 / (1.0 + (-(nm - middle) / width).exp())
}

fn shuts(middle: f64, width: f64) -> impl Fn(f64) -> f64 {
    move |nm| 1.0 / (1.0 + ((nm - middle) / width).exp())
}

fn model(of: impl Fn(f64) -> f64) -> View {
    View::new(&Filter::of("model", Spectrum::of(of)).unwrap(), Display::Led)
}

/// The ten model filters of the facts on laser safety, section 13 (computed there with colour-science 0.4.7, the LED
/// screen's channels alike): VLT in %, what is left of red, green, blue and white, then the adapted contrast on black
/// of white, #CCC, yellow, amber #FFB000, red, green, cyan, magenta and blue.
#[test]
fn ten_model_filters_leave_what_the_facts_say() {
    type Row = (&'static str, Box<dyn Fn(f64) -> f64>, [f64; 5], [f64; 9]);
    fn row(name: &'static str, of: impl Fn(f64) -> f64 + 'static, left: [f64; 5], on_black: [f64; 9]) -> Row {
        (name, Box::new(of), left, on_black)
    }
    let band = |peak: f64, low: (f64, f64), high: (f64, f64)| {
        let (up, down) = (opens(low.0, low.1), shuts(high.0, high.1));
        move |nm| peak * up(nm) * down(nm)
    };
    let long = |peak: f64, c: f64, k: f64| {
        let up = opens(c, k);
        move |nm| peak * up(nm)
    };
    let (below, above) = (shuts(548.0, 6.0), opens(635.0, 6.0));
    let rows = [
        row(
            "orange",
            long(0.92, 555.0, 5.0),
            [46.0, 0.906, 0.288, 0.001, 0.399],
            [18.2, 11.4, 18.2, 13.1, 9.3, 9.9, 9.9, 9.3, 1.0],
        ),
        row(
            "amber",
            long(0.55, 560.0, 6.0),
            [25.0, 0.533, 0.140, 0.0, 0.213],
            [17.9, 11.2, 17.9, 13.4, 10.0, 8.9, 8.9, 10.0, 1.0],
        ),
        row(
            "red",
            long(0.85, 625.0, 5.0),
            [5.0, 0.143, 0.001, 0.0, 0.031],
            [13.8, 8.7, 13.8, 13.6, 13.5, 1.2, 1.2, 13.5, 1.0],
        ),
        row(
            "brown",
            band(0.45, (568.0, 5.0), (675.0, 8.0)),
            [17.0, 0.423, 0.073, 0.0, 0.142],
            [17.5, 11.0, 17.5, 14.1, 11.5, 7.1, 7.1, 11.5, 1.0],
        ),
        row(
            "brown, 694",
            band(0.35, (568.0, 5.0), (640.0, 8.0)),
            [12.0, 0.304, 0.057, 0.0, 0.105],
            [17.9, 11.2, 17.9, 14.2, 11.4, 7.5, 7.5, 11.4, 1.0],
        ),
        row(
            "magenta",
            move |nm| 0.60 * (below(nm) + above(nm)),
            [28.0, 0.058, 0.350, 0.598, 0.306],
            [22.9, 14.2, 19.8, 9.7, 1.9, 18.9, 22.0, 5.0, 4.1],
        ),
        row(
            "blue",
            band(0.60, (400.0, 6.0), (570.0, 9.0)),
            [37.0, 0.060, 0.497, 0.599, 0.412],
            [23.0, 14.3, 20.7, 9.9, 1.7, 20.0, 22.3, 4.0, 3.3],
        ),
        row(
            "blue-green",
            band(0.70, (400.0, 6.0), (590.0, 9.0)),
            [54.0, 0.215, 0.663, 0.700, 0.571],
            [22.1, 13.7, 20.2, 10.3, 2.7, 18.5, 20.4, 4.6, 2.9],
        ),
        row(
            "green",
            band(0.70, (420.0, 8.0), (620.0, 12.0)),
            [64.0, 0.503, 0.693, 0.691, 0.652],
            [21.5, 13.4, 19.9, 11.1, 4.4, 16.6, 18.1, 5.9, 2.6],
        ),
        row(
            "pale green",
            band(0.85, (400.0, 6.0), (650.0, 18.0)),
            [82.0, 0.760, 0.845, 0.850, 0.827],
            [21.3, 13.2, 19.8, 11.4, 5.0, 15.8, 17.3, 6.5, 2.5],
        ),
    ];
    let colours =
        ["#ffffff", "#cccccc", "#ffff00", "#ffb000", "#ff0000", "#00ff00", "#00ffff", "#ff00ff", "#0000ff"].map(colour);
    for (name, of, left, on_black) in rows {
        let vlt = Filter::of(name, Spectrum::of(&of)).unwrap().vlt();
        // Printed in whole per cent.
        assert!((100.0 * vlt - left[0]).abs() < 0.75, "{name}: VLT {vlt}");
        let view = model(of);
        let [r, g, b] = view.channels_left();
        let white = view.luminance(colours[0]);
        for (ours, theirs) in [r, g, b, white].into_iter().zip(&left[1..]) {
            assert!((ours - theirs).abs() < 3e-3, "{name}: {ours} of {theirs} left");
        }
        for (on, theirs) in colours.into_iter().zip(on_black) {
            let ours = view.contrast(on, Srgb([0; 3])).adapted;
            assert!(
                (ours / theirs - 1.0).abs() < 0.03 || (ours - theirs).abs() < 0.1,
                "{name} {on:?}: {ours}, {theirs}"
            );
        }
    }
}

/// The facts' contrasts for an eye that has not adapted, through the orange, amber and red models.
#[test]
fn an_eye_that_has_not_adapted_sees_less() {
    for (of, white, amber) in [
        (Box::new(opens(555.0, 5.0)) as Box<dyn Fn(f64) -> f64>, (0.92, 9.0), 6.6),
        (Box::new(opens(560.0, 6.0)), (0.55, 5.3), 4.1),
        (Box::new(opens(625.0, 5.0)), (0.85, 1.6), 1.6),
    ] {
        let view = model(|nm| white.0 * of(nm));
        for (on, theirs) in [("#ffffff", white.1), ("#ffb000", amber)] {
            let ours = view.contrast(colour(on), Srgb([0; 3])).dim;
            assert!((ours - theirs).abs() < 0.06, "{on}: {ours} against {theirs}");
        }
    }
}
