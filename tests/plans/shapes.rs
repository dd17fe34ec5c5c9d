//! Zones of any outline, as plans write them.

use super::{good, load};

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
