//! Zones of any outline, as plans write them.

use super::{good, load};
use fadewright::cli::plan::limit_problems;
use fadewright::device::DeviceProfile;
use fadewright::plan;
use fadewright::protocol::Protocol;
use fadewright::source::SourceText;

const RECTANGLE: &str = r#"{ kind = "rectangle", width = "48 mm", height = "38 mm" }"#;

fn with(shape: &str) -> String {
    let text = good();
    assert!(text.contains(RECTANGLE));
    text.replacen(RECTANGLE, shape, 1)
}

fn area(shape: &str) -> f64 {
    load(&with(shape)).unwrap_or_else(|p| panic!("{shape}: {p}")).zones[0].shape.area_mm2()
}

#[test]
fn polygons_and_combinations_are_read_and_survive_the_journal() {
    let square = r#"{ kind = "polygon", outline_mm = [[0, 0], [40, 0], [40.0, 25.5], [0, 25.5]] }"#;
    assert!((area(square) - 1020.0).abs() < 1e-9);
    let holed = r#"{ kind = "polygon", outline_mm = [[0, 0], [0, 20], [20, 20], [20, 0]],
        holes_mm = [[[5, 5], [10, 5], [10, 10], [5, 10]]] }"#;
    assert!((area(holed) - 375.0).abs() < 1e-9);
    let both = r#"{ kind = "combination", parts = [
        { kind = "rectangle", width = "20 mm", height = "10 mm", turn = "90 deg", at_mm = [3, -2.5] },
        { kind = "rectangle", width = "4 mm", height = "4 mm", at_mm = [3, 0], hole = true } ] }"#;
    assert!((area(both) - 184.0).abs() < 1e-6);
    for shape in [square, holed, both] {
        let plan = load(&with(shape)).unwrap();
        let json = serde_json::to_string(&plan).unwrap();
        assert_eq!(serde_json::from_str::<fadewright::plan::Plan>(&json).unwrap(), plan);
    }
}

#[test]
fn mistakes_are_told_at_the_point_where_they_lie() {
    for (shape, field, said) in [
        (
            r#"{ kind = "polygon", outline_mm = [[0, 0], [10, 10], [10, 0], [0, 10]] }"#,
            "zone[1].shape.outline_mm[3]",
            "meets the edge from point 3 of the outline at (5, 5) mm",
        ),
        (
            r#"{ kind = "polygon", outline_mm = [[0, 0], [10, 0], [9999, 10]] }"#,
            "zone[1].shape.outline_mm[3]",
            "from -2000 to 2000 mm",
        ),
        (
            r#"{ kind = "polygon", outline_mm = [[0, 0], [10, 0], [10, 10]], holes_mm = [[[20, 20], [21, 20], [21, 21]]] }"#,
            "zone[1].shape.holes_mm[1][1]",
            "hole 1 lies outside the outline",
        ),
        (r#"{ kind = "polygon", outline_mm = [[0, 0], [10, 0]] }"#, "zone[1].shape.outline_mm", ""),
        (r#"{ kind = "polygon", outline_mm = [[0, 0], [10, 0], [5, "x"]] }"#, "zone[1].shape.outline_mm[3]", ""),
        (r#"{ kind = "polygon", outline_mm = [[0, 0], [10, 0], [20, 0]] }"#, "zone[1].shape.outline_mm", "no area"),
        (r#"{ kind = "combination", parts = [] }"#, "zone[1].shape.parts", ""),
        (
            r#"{ kind = "combination", parts = [{ kind = "ellipse", width = "5 mm", height = "0 mm" }] }"#,
            "zone[1].shape.parts[1].height",
            "",
        ),
        (
            r#"{ kind = "combination", parts = [{ kind = "ellipse", width = "5 mm", height = "5 mm", turn = "30" }] }"#,
            "zone[1].shape.parts[1].turn",
            "30 deg",
        ),
        (
            r#"{ kind = "combination", parts = [{ kind = "ellipse", width = "5 mm", height = "5 mm", hole = true }] }"#,
            "zone[1].shape.parts",
            "leave nothing",
        ),
        (r#"{ kind = "combination", parts = [{ kind = "combination", parts = [] }] }"#, "zone[1].shape.parts[1]", ""),
    ] {
        let problems = load(&with(shape)).unwrap_err().to_string();
        assert!(problems.contains(field) && problems.contains(said), "{shape}: {problems}");
    }
}

#[test]
fn a_plan_takes_two_thousand_points() {
    let circle = |n: usize| {
        let points: Vec<String> = (0..n)
            .map(|i| {
                let a = std::f64::consts::TAU * i as f64 / n as f64;
                format!("[{:.6}, {:.6}]", 20.0 * a.cos(), 20.0 * a.sin())
            })
            .collect();
        format!("{{ kind = \"polygon\", outline_mm = [{}] }}", points.join(", "))
    };
    assert!((area(&circle(2000)) / (std::f64::consts::PI * 400.0) - 1.0).abs() < 1e-5);
    assert!(load(&with(&circle(2001))).is_err());
}

/// What the plan check warns of when the first zone, treated with 4 mm, has this shape and overlap.
fn warned(shape: &str, overlap: &str) -> Vec<String> {
    let text = with(shape).replacen("overlap = \"10 %\"", &format!("overlap = \"{overlap}\""), 1);
    let loaded = plan::load(&SourceText::new("a.toml", text)).unwrap();
    let (errors, warnings) =
        limit_problems(&loaded, &DeviceProfile::embedded().unwrap(), &Protocol::embedded().unwrap());
    assert!(errors.is_empty(), "{errors:?}");
    warnings.iter().map(|w| format!("{}: {}", w.field, w.message)).collect()
}

#[test]
fn a_zone_that_an_even_pass_would_miss_is_warned_of() {
    let rectangle = |w: &str, h: &str| format!("{{ kind = \"rectangle\", width = \"{w} mm\", height = \"{h} mm\" }}");
    assert!(warned(&rectangle("48", "38"), "10 %").is_empty(), "the plan as it is");
    let only = |shape: &str, overlap: &str, field: &str, said: &str| {
        let told = warned(shape, overlap);
        assert!(told.len() == 1 && told[0].starts_with(field) && told[0].contains(said), "{told:?}");
    };
    // 10 % leaves 0.6 % bare, 5 % leaves 3.5 % (lattice_coverage.csv).
    only(&rectangle("48", "38"), "5 %", "zone[1].setting.overlap", "% of the zone bare; from 13.4 % overlap on");
    only(&rectangle("3", "3"), "20 %", "zone[1].setting.spot", "smaller than one 4 mm spot");
    only(&rectangle("60", "2"), "20 %", "zone[1].setting.spot", "the zone is 2 mm wide, less than the 4 mm spot");
    // A ring so thin that the lattice's spots lie beside it more often than on it.
    let ring = r#"{ kind = "combination", parts = [{ kind = "ellipse", width = "60 mm", height = "60 mm" },
        { kind = "ellipse", width = "58 mm", height = "58 mm", hole = true }] }"#;
    only(ring, "14 %", "zone[1].setting.spot", "pulses of an even pass would have their middle outside the zone");
}
