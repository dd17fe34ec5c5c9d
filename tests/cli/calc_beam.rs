//! `calc beam`.

use super::{Run, home, run};

fn beam(args: &[&str]) -> Run {
    run(home().path(), &[&["calc", "beam"], args].concat())
}

#[test]
fn a_gaussian_beam_peaks_at_twice_its_average() {
    let args = ["--energy-j", "0.3", "--spot-mm", "4", "--profile", "gaussian", "--pulse", "750ps", "--rate-hz", "5"];
    let result = beam(&[&args[..], &["--json"]].concat());
    assert_eq!(result.code, 0, "{}", result.err);
    let json = result.json();
    let near = |key: &str, wanted: f64| {
        let got = json[key].as_f64().unwrap_or_else(|| panic!("{key} in {json}"));
        assert!((got / wanted - 1.0).abs() < 1e-6, "{key}: {got} against {wanted}");
    };
    near("fluence_j_cm2", 2.387_324);
    near("peak_fluence_j_cm2", 4.774_648);
    near("peak_power_w", 4e8);
    near("average_power_w", 1.5);
    near("energy_inside_spot", 0.864_664_717);
    near("fwhm_mm", 2.354_820_045);
    near("peak_power_gaussian_pulse_w", 0.939_437_279 * 4e8);
    near("peak_irradiance_w_cm2", 4.774_648 / 750e-12);
    let text = beam(&args).out;
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    for words in ["300 mJ", "2.3873 J/cm2", "4.7746 J/cm2", "400 MW", "square pulse", "1.5 W", "86.5 %"] {
        assert!(text.contains(words), "{words} in {text}");
    }
}

#[test]
fn fluence_instead_of_energy_gives_the_same_beam() {
    let by = |args: &[&str]| beam(&[args, &["--spot-mm", "3 mm", "--json"]].concat()).json();
    let (a, b) = (by(&["--fluence", "2.5"]), by(&["--fluence-j-cm2", "2.5 J/cm2"]));
    assert_eq!(a, b);
    let energy = a["energy_j"].as_f64().unwrap();
    assert!((energy - 2.5 * std::f64::consts::PI * 0.09 / 4.0).abs() < 1e-12);
    assert_eq!(a["peak_fluence_j_cm2"], a["fluence_j_cm2"]);
    // What was not asked for is not there.
    assert!(a.get("peak_power_w").is_none() && a.get("average_power_w").is_none());
}

#[test]
fn wrong_input_is_refused_with_the_flag_and_what_to_do() {
    for (args, wanted) in [
        (&["--spot-mm", "3"][..], "--energy-j or --fluence-j-cm2"),
        (&["--energy-j", "1", "--fluence", "1", "--spot-mm", "3"], "give one of them"),
        (&["--energy-j", "-1", "--spot-mm", "3"], "--energy-j: energy -1 J is outside"),
        (&["--energy-j", "0", "--spot-mm", "3"], "--energy-j"),
        (&["--energy-j", "nan", "--spot-mm", "3"], "--energy-j: energy NaN J"),
        (&["--energy-j", "inf", "--spot-mm", "3"], "--energy-j"),
        (&["--energy-j", "1e308", "--spot-mm", "3"], "--energy-j"),
        (&["--energy-j", "1", "--spot-mm", "0"], "--spot-mm: spot 0 mm is outside 0.5 to 30 mm"),
        (&["--energy-j", "1", "--spot-mm", "3 J"], "'J' is not a unit of spot"),
        (&["--energy-j", "1", "--spot-mm", "3", "--profile", "round"], "one of: flat, gaussian"),
        (&["--energy-j", "1", "--spot-mm", "3", "--pulse", "750"], "'750' has no unit; write it like '750 ps'"),
        (&["--energy-j", "1", "--spot-mm", "3", "--pulse", "0 ns"], "--pulse"),
        (&["--energy-j", "1", "--spot-mm", "3", "--rate-hz", "1e9"], "--rate-hz"),
        (&["--fluence", "100", "--spot-mm", "30"], "takes more than a laser gives"),
        (&["--energy-j", "\u{1b}[31m1", "--spot-mm", "3"], "␛[31m1"),
    ] {
        let result = beam(args);
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{args:?}: {}", result.err);
        assert!(result.err.contains(wanted), "{args:?}: {}", result.err);
        assert!(!result.err.contains("panicked") && !result.err.contains('\u{1b}'), "{}", result.err);
    }
    assert_eq!(beam(&["--energy-j", "1"]).code, 2);
}
