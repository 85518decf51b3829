//! Every chart, however odd: labels apart and on the paper, markup well-formed.

use super::*;
use finding::chart::*;
use proptest::prelude::*;

#[path = "../../tests/fixture/markup.rs"]
#[allow(dead_code, reason = "the pages' tests ask for more of it")]
mod markup;

fn value() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => -50.0..50.0_f64,
        4 => 1e-4..1e4_f64,
        1 => prop_oneof![
            Just(0.0), Just(f64::NAN), Just(f64::INFINITY), Just(f64::NEG_INFINITY),
            Just(1e300), Just(-1e300), Just(1e-300), Just(f64::MAX),
        ],
    ]
}

fn words() -> impl Strategy<Value = String> {
    prop_oneof![
        6 => "[a-z]{2,9}( [a-zA-Z0-9]{1,9}){0,4}",
        1 => "[\u{0}-\u{7f}]{0,30}",
        1 => "\\PC{0,60}",
        1 => Just("x".repeat(400)),
        1 => Just(String::new()),
    ]
}

fn points() -> impl Strategy<Value = Vec<Point>> {
    proptest::collection::vec([value(), value()], 0..24)
}

fn axis() -> impl Strategy<Value = Axis> {
    let scale = prop_oneof![Just(AxisScale::Linear), Just(AxisScale::Log)];
    (words(), words(), scale, proptest::option::of([value(), value()]))
        .prop_map(|(label, unit, scale, range)| Axis { label, unit, scale, range })
}

fn purpose() -> impl Strategy<Value = Purpose> {
    proptest::sample::select(vec![
        Purpose::Nominal,
        Purpose::Bound,
        Purpose::Measured,
        Purpose::Limit,
        Purpose::Course,
    ])
}

fn area() -> impl Strategy<Value = Area> {
    prop_oneof![
        points().prop_map(Area::Above),
        points().prop_map(Area::Below),
        points().prop_map(Area::Inside),
        value().prop_map(Area::RightOf),
        value().prop_map(Area::LeftOf),
    ]
}

fn lines() -> impl Strategy<Value = Plot> {
    use proptest::collection::vec;
    let limit = prop_oneof![value().prop_map(LimitAt::X), value().prop_map(LimitAt::Y)];
    (
        (axis(), axis()),
        vec((words(), points(), points()).prop_map(|(name, upper, lower)| Band { name, upper, lower }), 0..3),
        vec((words(), area()).prop_map(|(name, area)| Region { name, area }), 0..3),
        vec(
            (words(), purpose(), points()).prop_map(|(name, purpose, points)| Series {
                name,
                purpose,
                points,
            }),
            0..9,
        ),
        vec((words(), limit).prop_map(|(label, at)| Limit { label, at }), 0..5),
        vec((words(), [value(), value()]).prop_map(|(label, at)| Mark { label, at }), 0..9),
    )
        .prop_map(|((x, y), bands, forbidden, series, limits, marks)| {
            Plot::Lines(Lines { x, y, bands, forbidden, series, limits, marks })
        })
}

fn level_role() -> impl Strategy<Value = LevelRole> {
    proptest::sample::select(vec![
        LevelRole::Present,
        LevelRole::Excursion,
        LevelRole::Permitted,
        LevelRole::Threshold,
        LevelRole::Rating,
        LevelRole::Destroys,
    ])
}

fn levels() -> impl Strategy<Value = Plot> {
    use proptest::collection::vec;
    let span = (words(), level_role(), value(), value()).prop_map(|(label, role, low, high)| LevelSpan {
        label,
        role,
        low,
        high,
    });
    let mark = (words(), level_role(), value()).prop_map(|(label, role, at)| LevelMark { label, role, at });
    let path = (words(), proptest::option::of([value(), value()]), vec(span, 0..14), vec(mark, 0..14))
        .prop_map(|(name, range, spans, marks)| LevelPath { name, range, spans, marks });
    (words(), vec(path, 0..4)).prop_map(|(unit, paths)| Plot::Levels(Levels { unit, paths }))
}

fn scales() -> impl Strategy<Value = Plot> {
    use proptest::collection::vec;
    let scale =
        (words(), words(), value(), value(), proptest::option::of([value(), value()]), words()).prop_map(
            |(label, unit, bottom, top, valid, beyond)| Scale { label, unit, bottom, top, valid, beyond },
        );
    let role = proptest::sample::select(vec![ScaleRole::Zero, ScaleRole::Rating, ScaleRole::Limit]);
    let mark = (words(), role, value()).prop_map(|(label, role, at)| ScaleMark { label, role, at });
    (vec(scale, 0..5), vec(mark, 0..10), words())
        .prop_map(|(scales, marks, resolution)| Plot::Scales(Scales { scales, marks, resolution }))
}

fn shares() -> impl Strategy<Value = Plot> {
    use proptest::collection::vec;
    let part = (words(), prop_oneof![0.0..1.0_f64, value()], words()).prop_map(|(name, share, text)| Part {
        name,
        share,
        text,
    });
    let total = (words(), vec(part, 0..7)).prop_map(|(name, parts)| Total { name, parts });
    vec(total, 0..4).prop_map(|totals| Plot::Shares(Shares { totals }))
}

fn traces() -> impl Strategy<Value = Plot> {
    use proptest::collection::vec;
    let named = || (words(), value()).prop_map(|(label, at)| Named { label, at });
    let band = (words(), points(), points()).prop_map(|(name, upper, lower)| Band { name, upper, lower });
    let series =
        (words(), purpose(), points()).prop_map(|(name, purpose, points)| Series { name, purpose, points });
    let panel = (
        (words(), words()),
        proptest::option::of([value(), value()]),
        any::<bool>(),
        (vec(band, 0..3), vec(series, 0..5), vec(named(), 0..4)),
    )
        .prop_map(|((title, unit), range, logic, (bands, series, limits))| Panel {
            title,
            unit,
            range,
            logic,
            bands,
            series,
            limits,
        });
    (axis(), vec(panel, 0..5), vec(named(), 0..4))
        .prop_map(|(time, panels, moments)| Plot::Traces(Traces { time, panels, moments }))
}

fn check(plot: Plot) -> Result<(), TestCaseError> {
    let (title, alt) = ("a < b & \"c\"".to_owned(), "]]> --> 'd'".to_owned());
    let chart = Chart { id: "odd".into(), title, alt, caption: String::new(), plot };
    let (svg, paper, labels) = drawing(&chart, "c", "");
    for (i, label) in labels.iter().enumerate() {
        prop_assert!(label.lies_in(&paper), "{label:?} is not on {paper:?}");
        for other in &labels[..i] {
            prop_assert!(!label.grown(-0.01).overlaps(other), "{label:?} lies on {other:?}");
        }
    }
    prop_assert!(paper.h.is_finite() && paper.h < 20_000.0, "{paper:?}");
    for odd in ["NaN", "inf"] {
        let number = format!("=\"{odd}");
        prop_assert!(!svg.contains(&number), "{odd} in {svg}");
    }
    let elements = markup::read(&printable(svg)).map_err(TestCaseError::fail)?;
    let drawn =
        ["svg", "title", "desc", "defs", "pattern", "g", "line", "path", "rect", "circle", "polygon", "text"];
    for element in elements {
        prop_assert!(drawn.contains(&element.name.as_str()), "<{}>", element.name);
    }
    prop_assert_eq!(standalone(&chart), standalone(&chart));
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn any_lines(plot in lines()) { check(plot)?; }

    #[test]
    fn any_levels(plot in levels()) { check(plot)?; }

    #[test]
    fn any_scales(plot in scales()) { check(plot)?; }

    #[test]
    fn any_shares(plot in shares()) { check(plot)?; }

    #[test]
    fn any_traces(plot in traces()) { check(plot)?; }
}
