//! `calc anaesthetic`.

use super::{Run, home, run, sample};

const ADULT: [&str; 4] = ["--age-years", "31", "--weight-kg", "70"];

fn anaesthetic(args: &[&str]) -> Run {
    run(home().path(), &[&["calc", "anaesthetic"], args].concat())
}

fn adult(args: &[&str]) -> Run {
    anaesthetic(&[&ADULT[..], args].concat())
}

#[test]
fn an_adult_s_limits_are_told_with_sources_and_warnings() {
    let result = adult(&["--json"]);
    assert_eq!(result.code, 0, "{}", result.err);
    let json = result.json();
    for (key, wanted) in [
        ("cream_max_g", 60.0),
        ("cream_max_area_cm2", 600.0),
        ("cream_max_time_h", 5.0),
        ("cream_onset_min", 60.0),
        ("cream_painful_min", 120.0),
        ("cream_painful_g_per_10_cm2", 2.0),
        ("lidocaine_max_mg", 300.0),
        ("lidocaine_epinephrine_max_mg", 490.0),
        ("sum_of_limits", 0.0),
    ] {
        assert_eq!(json[key].as_f64(), Some(wanted), "{key} in {json}");
    }
    assert_eq!((json["within_limits"].as_bool(), json["shares"].as_array().map(Vec::len)), (Some(true), Some(0)));
    let warnings = json["warnings"].as_array().unwrap();
    assert_eq!(warnings.last().unwrap()["text"], "Confirm with the prescriber and the label.");
    assert!(json["sources"].as_array().unwrap().iter().any(|s| s.as_str().unwrap().contains("[common-practice]")));
    let text = adult(&[]).out;
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    for words in ["60 g on 600 cm2 for 5 h", "300 mg: 30 mL of 1 %", "490 mg", "Confirm with the prescriber", "Sources"]
    {
        assert!(text.contains(words), "{words} in {text}");
    }
}

#[test]
fn doses_are_added_as_shares_and_too_much_ends_with_one() {
    let doses = ["--cream-g", "30", "--area-cm2", "200", "--minutes", "90", "--percent", "1", "--ml", "10"];
    let result = adult(&[&doses[..], &["--json"]].concat());
    assert_eq!(result.code, 0, "{}", result.err);
    let json = result.json();
    assert!((json["sum_of_limits"].as_f64().unwrap() - (0.5 + 1.0 / 3.0)).abs() < 1e-9, "{json}");
    let shares = json["shares"].as_array().unwrap();
    assert_eq!((shares[0]["kind"].as_str(), shares[0]["stage"].as_str()), (Some("cream"), Some("working")));
    assert_eq!(shares[0]["lidocaine_in_it_mg"].as_f64(), Some(750.0));
    assert_eq!(shares[0]["prilocaine_in_it_mg"].as_f64(), Some(750.0));
    assert_eq!(shares[1]["lidocaine_mg"].as_f64(), Some(100.0));
    assert!(adult(&doses).out.contains("within the limits"));

    // 160 mg more than fits beside half the cream: each alone would do.
    let doses = ["--cream-g", "30", "--area-cm2", "200", "--minutes", "90", "--lidocaine-mg", "160"];
    let over = adult(&[&doses[..], &["--json"]].concat());
    assert_eq!(over.code, 1);
    let json = over.json();
    assert_eq!((json["within_limits"].as_bool(), json["findings"][0]["over"].as_str()), (Some(false), Some("sum")));
    let text = adult(&doses);
    assert_eq!(text.code, 1);
    assert!(text.out.contains("OVER A LIMIT") && text.out.contains("Add nothing more"), "{}", text.out);
    assert!(text.out.lines().all(|l| l.chars().count() <= 80), "{}", text.out);
}

#[test]
fn epinephrine_allows_more_and_a_minor_less() {
    assert_eq!(adult(&["--lidocaine-mg", "400"]).code, 1);
    assert_eq!(adult(&["--lidocaine-mg", "400", "--epinephrine"]).code, 0);
    assert_eq!(anaesthetic(&["--age-years", "17", "--weight-kg", "70", "--lidocaine-mg", "200"]).code, 1);
    // Cream over time.
    let late = adult(&["--cream-g", "10", "--area-cm2", "50", "--minutes", "301"]);
    assert_eq!(late.code, 1);
    assert!(late.out.contains("REMOVE NOW") && late.out.contains("Remove it now"), "{}", late.out);
    assert!(adult(&["--cream-g", "10", "--area-cm2", "50", "--minutes", "0"]).out.contains("not working yet"));
}

#[test]
fn months_tell_infants_apart() {
    let of = |args: &[&str]| anaesthetic(&[args, &["--weight-kg", "6", "--json"]].concat()).json();
    let infant = of(&["--age-years", "0", "--age-months", "4"]);
    assert_eq!((infant["cream_max_g"].as_f64(), infant["lidocaine_max_mg"].as_f64()), (Some(2.0), Some(6.3)));
    assert!(infant.get("cream_painful_min").is_none(), "for adults alone");
    // Without months the youngest is assumed.
    assert_eq!(of(&["--age-years", "0"])["cream_max_g"].as_f64(), Some(1.0));
    assert_eq!(of(&["--age-years", "1"])["cream_max_g"].as_f64(), Some(2.0), "6 kg: the row of the weight");
}

#[test]
fn a_plan_gives_the_person_and_what_is_known_of_them() {
    let home = home();
    let plan = sample("two-zone-band.toml");
    let json = run(home.path(), &["calc", "anaesthetic", &plan, "--json"]).json();
    assert_eq!((json["age_years"].as_u64(), json["weight_kg"].as_f64()), (Some(34), Some(72.0)));
    assert_eq!(json["lidocaine_epinephrine_max_mg"].as_f64(), Some(500.0), "504 is above the maximum");
    assert!(json["warnings"].as_array().unwrap().iter().all(|w| w["concerns"] == false));
    let text = std::fs::read_to_string(&plan).unwrap();
    let text = text.replace("conditions = []", "conditions = [\"methaemoglobinaemia\", \"pregnancy\"]");
    let text = text.replace("medicines = []", "medicines = [\"antiarrhythmic-class-iii\"]");
    let file = home.path().join("plan.toml");
    std::fs::write(&file, text).unwrap();
    let cream = ["--cream-g", "10", "--area-cm2", "50", "--minutes", "90"];
    let shown = run(home.path(), &[&["calc", "anaesthetic", file.to_str().unwrap()], &cream[..]].concat());
    assert_eq!(shown.code, 0, "{}", shown.err);
    assert!(shown.out.contains("within the limits; mind what is marked !"), "{}", shown.out);
    for known in ["Methaemoglobinaemia", "Class III", "Pregnancy"] {
        assert!(shown.out.contains(&format!("! THIS PERSON: {known}")), "{known} in {}", shown.out);
    }
}

#[test]
fn wrong_input_is_refused_and_names_the_flag() {
    let plan = sample("two-zone-band.toml");
    let with = |args: &[&str]| [&ADULT[..], args].concat().into_iter().map(str::to_owned).collect::<Vec<_>>();
    let plain = |args: &[&str]| args.iter().map(|a| (*a).to_owned()).collect::<Vec<_>>();
    for (args, wanted) in [
        (plain(&[]), "--age-years"),
        (plain(&["--age-years", "31"]), "--weight-kg"),
        (plain(&["--weight-kg", "70"]), "--age-years"),
        (plain(&["--age-years", "200", "--weight-kg", "70"]), "--age-years: 200 years is outside 0 to 120 years"),
        (plain(&["--age-years", "-1", "--weight-kg", "70"]), "--age-years: '-1' is not a whole number"),
        (plain(&["--age-years", "3.5", "--weight-kg", "70"]), "--age-years"),
        (plain(&["--age-years", "99999999999", "--weight-kg", "70"]), "--age-years"),
        (plain(&["--age-years", "0", "--age-months", "12", "--weight-kg", "8"]), "--age-months: 12 months is outside"),
        (plain(&["--age-months", "4", "--weight-kg", "8"]), "--age-years"),
        (plain(&["--age-years", "31", "--weight-kg", "0"]), "--weight-kg: weight 0 kg is outside 0.5 to 400 kg"),
        (plain(&["--age-years", "31", "--weight-kg", "nan"]), "--weight-kg: weight NaN kg"),
        (plain(&["--age-years", "31", "--weight-kg", "-70"]), "--weight-kg"),
        (plain(&["--age-years", "31", "--weight-kg", "inf"]), "--weight-kg"),
        (with(&["--area-cm2", "50"]), "--cream-g"),
        (with(&["--minutes", "50"]), "--cream-g"),
        (with(&["--cream-g", "5"]), "--area-cm2"),
        (with(&["--cream-g", "5", "--area-cm2", "50"]), "--minutes"),
        (with(&["--cream-g", "-5", "--area-cm2", "50", "--minutes", "9"]), "--cream-g: cream -5 g"),
        (with(&["--cream-g", "nan", "--area-cm2", "50", "--minutes", "9"]), "--cream-g: cream NaN g"),
        (with(&["--cream-g", "5", "--area-cm2", "0", "--minutes", "9"]), "--area-cm2: area 0 cm2"),
        (with(&["--cream-g", "5", "--area-cm2", "50", "--minutes", "-9"]), "--minutes: time on the skin -9 min"),
        (with(&["--lidocaine-mg", "-1"]), "--lidocaine-mg: dose -1 mg"),
        (with(&["--lidocaine-mg", "0"]), "--lidocaine-mg"),
        (with(&["--lidocaine-mg", "5 kg"]), "--lidocaine-mg"),
        (with(&["--percent", "1"]), "--ml"),
        (with(&["--ml", "10"]), "--percent"),
        (with(&["--percent", "50", "--ml", "10"]), "--percent: strength 50 %"),
        (with(&["--percent", "1", "--ml", "10", "--lidocaine-mg", "100"]), "cannot be used with"),
        (with(&["--epinephrine"]), "--epinephrine: of what?"),
        (plain(&[&plan, "--age-years", "31"]), "cannot be used with"),
        (plain(&[&plan, "--weight-kg", "31"]), "cannot be used with"),
        (with(&["--lidocaine-mg", "\u{1b}[31m1"]), "␛[31m1"),
        (plain(&["gone.toml"]), "gone.toml"),
    ] {
        let result = anaesthetic(&args.iter().map(String::as_str).collect::<Vec<_>>());
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{args:?}: {}", result.err);
        assert!(result.err.contains(wanted), "{args:?}: {}", result.err);
        assert!(!result.err.contains("panicked") && !result.err.contains('\u{1b}'), "{}", result.err);
    }
}
