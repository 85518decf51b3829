//! Wire gauges, copper and standard sizes against ASTM B258, IEC 60028 and IEC 60228.

use worked::conductors::{
    COPPER_RESISTIVITY, COPPER_TEMPERATURE_COEFFICIENT, Class, REFERENCE_TEMPERATURE, awg_area, awg_diameter,
    copper_resistance, size_at_least, sizes,
};

/// The two sizes that define the gauge, and sizes as usually tabulated (ASTM B258; tables from memory).
#[test]
fn gauges_match_the_standard() {
    for (gauge, inch, relative) in [
        (-3, 0.4600, 1e-12),
        (36, 0.0050, 1e-12),
        (0, 0.3249, 2e-4),
        (10, 0.1019, 2e-4),
        (20, 0.0320, 2e-3),
        (30, 0.0100, 3e-3),
    ] {
        let got = awg_diameter(gauge) / 0.0254;
        assert!((got / inch - 1.0).abs() <= relative, "AWG {gauge}: {got} in, want {inch}");
    }
    for (gauge, mm2) in [(10, 5.261), (14, 2.081), (18, 0.8231), (22, 0.3255), (24, 0.2047), (28, 0.081)] {
        let got = awg_area(gauge) * 1e6;
        assert!((got / mm2 - 1.0).abs() <= 1.5e-3, "AWG {gauge}: {got} mm², want {mm2}");
    }
    // 39 equal ratios: three gauges are about a factor of two in area, and the ratio is the same everywhere.
    for gauge in -3..53 {
        let ratio = awg_area(gauge) / awg_area(gauge + 3);
        assert!((ratio - libm::pow(92.0, 6.0 / 39.0)).abs() < 1e-12 * ratio, "AWG {gauge}");
    }
}

/// 1 m of 1 mm² is 1/58 Ω at 20 °C (IEC 60028), and 25 K above that 9.825 % more.
#[test]
fn copper_is_that_of_the_standard() {
    let cold = copper_resistance(1.0, 1e-6, REFERENCE_TEMPERATURE);
    assert!((cold * 58.0 - 1.0).abs() < 1e-14);
    let warm = copper_resistance(1.0, 1e-6, REFERENCE_TEMPERATURE + 25.0);
    assert!((warm / cold - 1.098_25).abs() < 1e-12);
}

/// IEC 60228: the highest resistance lies above that of the pure metal, by less than a fifth, and falls.
#[test]
fn standard_sizes_hang_together() {
    for class in [Class::Fixed, Class::Flexible] {
        for size in sizes(class) {
            let excess = size.resistance * size.area / COPPER_RESISTIVITY - 1.0;
            assert!((0.0..0.2).contains(&excess), "{class:?} {} m²: {excess}", size.area);
        }
        assert!(sizes(class).windows(2).all(|p| p[0].area < p[1].area && p[0].resistance > p[1].resistance));
    }
    assert_eq!(size_at_least(Class::Flexible, 0.6e-6).map(|s| s.area), Some(0.75e-6));
    assert_eq!(size_at_least(Class::Flexible, 0.75e-6).map(|s| s.area), Some(0.75e-6));
    assert_eq!(size_at_least(Class::Flexible, 1.0), None);
}

/// A larger table kept outside of the project, where it is there: every check in it that concerns this.
#[test]
fn conductors_match_the_reference_table() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../../shared/references/c_conductors.toml");
    let Ok(text) = std::fs::read_to_string(path) else {
        println!("skipped: no reference table beside the project");
        return;
    };
    let table: toml::Table = text.parse().expect("a TOML file");
    let rows = |key: &str| table[key].as_array().cloned().unwrap_or_default();
    let mut seen = 0;
    for check in rows("check") {
        let id = check["id"].as_str().expect("an id").to_owned();
        let number = |key: &str| check.get("in").and_then(|i| i.get(key)).and_then(number_of);
        let gauge = number("awg").map(|g| g as i32);
        let vdrop = || {
            // A pair, from the standard's resistance per length, warmed by the coefficient.
            let get = |key: &str| number(key).expect("an input");
            let cold = 2.0 * get("length_m") * get("r_ohm_per_km") / 1e3;
            let size = size_at_least(Class::Fixed, get("area_mm2") / 1e6).expect("a size");
            assert!((size.resistance * 1e3 - get("r_ohm_per_km")).abs() < 1e-9);
            let warm = copper_resistance(1.0, 1e-6, REFERENCE_TEMPERATURE - 20.0 + get("T"))
                / copper_resistance(1.0, 1e-6, REFERENCE_TEMPERATURE);
            (cold, cold * warm, get("current_A"), get("U"))
        };
        let got = match (id.as_str(), gauge) {
            (id, Some(gauge)) if id.ends_with(".d") || id.ends_with(".dtab") => awg_diameter(gauge) * 1e3,
            (id, Some(gauge)) if id.ends_with(".a") || id.ends_with(".atab") => awg_area(gauge) * 1e6,
            (id, Some(gauge)) if id.ends_with(".r") => {
                copper_resistance(1e3, awg_area(gauge), REFERENCE_TEMPERATURE)
            }
            ("cu.rho", _) => COPPER_RESISTIVITY * 1e6,
            ("cu.k", _) => 1.0 / COPPER_TEMPERATURE_COEFFICIENT - 20.0,
            ("iec60228.consistency", _) => {
                let all = [Class::Fixed, Class::Flexible].into_iter().flat_map(sizes);
                all.filter(|size| {
                    let ideal = COPPER_RESISTIVITY / size.area;
                    size.resistance > ideal && size.resistance < 1.2 * ideal
                })
                .count() as f64
            }
            ("vdrop.20", _) => vdrop().0 * vdrop().2,
            ("vdrop.60", _) => vdrop().1 * vdrop().2,
            ("vdrop.60.pct", _) => 100.0 * vdrop().1 * vdrop().2 / vdrop().3,
            ("vdrop.60.p", _) => vdrop().1 * vdrop().2 * vdrop().2,
            (id, _) => panic!("a check of an unknown kind: {id}"),
        };
        let want = number_of(&check["value"]).expect("a value");
        let tolerance =
            match (check.get("tol_rel").and_then(number_of), check.get("tol_abs").and_then(number_of)) {
                (Some(relative), _) => relative * want.abs(),
                (None, Some(absolute)) => absolute,
                (None, None) => panic!("{id} has no tolerance"),
            };
        assert!((got - want).abs() <= tolerance, "{id}: {got}, want {want} ± {tolerance}");
        seen += 1;
    }
    for fact in rows("fact") {
        let id = fact["id"].as_str().expect("an id");
        let class = match id {
            "cu.alpha" => {
                assert_eq!(number_of(&fact["value"]), Some(COPPER_TEMPERATURE_COEFFICIENT));
                continue;
            }
            id if id.starts_with("iec60228.c2") => Class::Fixed,
            id if id.starts_with("iec60228.c5") => Class::Flexible,
            id => panic!("a fact of an unknown kind: {id}"),
        };
        let area = number_of(&fact["area_mm2"]).expect("an area") / 1e6;
        let size = sizes(class).iter().find(|size| (size.area / area - 1.0).abs() < 1e-12);
        let want = number_of(&fact["r_max_ohm_per_km"]).expect("a resistance") / 1e3;
        assert!(size.is_some_and(|size| (size.resistance / want - 1.0).abs() < 1e-12), "{id}");
        seen += 1;
    }
    assert!(seen > 50, "only {seen} checks were found");
}

fn number_of(value: &toml::Value) -> Option<f64> {
    value.as_float().or(value.as_integer().map(|i| i as f64))
}
