//! Claims: verdicts, corners, changes and corridors, against figures worked by hand.

use worked::{Claim, Dimension as D, Effort, Input, Number, Origin, Outcome, Stand, Unit, Worked, corridor};

fn input(path: &str, symbol: &str, d: D, value: f64, low: f64, high: f64) -> Input {
    Input::new(path, path, symbol, d).value(value).limits(low, high)
}

/// A locked rotor: 24 V, 0.8 V over the brushes, 3.65 Ω and 0.31 Ω, a limit of 4.2 A ± 12 %, peak 4.5 A.
struct Bench {
    supply: Worked,
    drop: Worked,
    winding: Worked,
    bridge: Worked,
    limit: Worked,
    peak: Worked,
}

fn bench() -> Bench {
    let amp = Unit::parse("A").expect("a unit");
    Bench {
        supply: input("supply.voltage", "U_s", D::VOLTAGE, 24.0, 22.8, 25.2).worked(),
        drop: input("motor.brush_drop", "U_b", D::VOLTAGE, 0.8, 0.8, 0.8).worked(),
        winding: input("motor.resistance", "R", D::RESISTANCE, 3.65, 3.285, 4.015).worked(),
        bridge: input("channel.on_resistance", "R_on", D::RESISTANCE, 0.31, 0.31, 0.31).worked(),
        limit: input("board.limit", "I_lim", D::CURRENT, 4.2, 4.2 * 0.88, 4.2 * 1.12)
            .setting(0.5, 6.0, true)
            .unit(amp)
            .written("4.2 A ± 12 %")
            .worked(),
        peak: input("channel.peak_current", "I_pk", D::CURRENT, 4.5, 4.5, 4.5).worked(),
    }
}

fn locked(b: &Bench) -> Worked {
    let stall = ((&b.supply - &b.drop) / (&b.winding + &b.bridge)).called("stall current", "I_st");
    stall.at_most(b.limit.clone()).called("current with the rotor locked", "I_lock")
}

#[test]
fn the_corner_that_decides_is_named_and_the_setting_found() {
    let b = bench();
    let claim = locked(&b).must_stay_below(b.peak.clone());
    let verdict = claim.judge();
    assert_eq!(verdict.outcome, Outcome::NotEverywhere);
    assert!(verdict.exact);
    // min(25.2 − 0.8) / (3.285 + 0.31) = 6.787 A, 4.2 · 1.12 = 4.704 A): the limit decides alone.
    assert!((verdict.value_there - 4.704).abs() < 1e-9);
    assert!((verdict.worst_margin - (4.5 - 4.704)).abs() < 1e-9);
    assert_eq!(verdict.deciding.len(), 1);
    assert_eq!(&*verdict.deciding[0].input.path, "board.limit");
    assert_eq!(verdict.deciding[0].stand, Stand::High);
    // 4.5 / 1.12 = 4.018 A; two digits in the safe direction.
    let changes = claim.changes();
    assert_eq!(changes.len(), 1);
    assert_eq!((changes[0].verb(), changes[0].to_text().as_str()), ("lower", "4 A"));
}

#[test]
fn the_working_reads_as_one_writes_it() {
    let b = bench();
    let lines = locked(&b).working();
    assert_eq!(
        lines,
        [
            "I_st = (U_s − U_b) / (R + R_on) = (24 V − 0.8 V) / (3.65 Ω + 0.31 Ω) = 5.86 A",
            "I_lock = min(I_st, I_lim) = min(5.86 A, 4.2 A) = 4.2 A",
        ]
    );
    let figure = locked(&b).figure(Effort::FirstOrder);
    assert_eq!(figure.sources.len(), 5);
    assert!(figure.steps.iter().all(|s| s.mathml.starts_with("<math") && s.mathml.ends_with("</math>")));
}

#[test]
fn powers_of_two_and_choices_read_as_one_writes_them() {
    let bits = input("adc.bits", "n_A", D::NONE, 12.0, 12.0, 12.0).written("12").worked();
    let codes = |bits: Worked| (bits * std::f64::consts::LN_2).exp().called("codes", "2ⁿ");
    assert_eq!(codes(bits.clone()).working(), ["2ⁿ = 2^n_A = 2^12 = 4096"]);
    let half = codes(bits.clone() - 1.0).called("half of the codes", "2ⁿ/2").working();
    assert_eq!(half[0], "2ⁿ = 2^(n_A − 1) = 2^(12 − 1) = 2048");
    let drawn = &codes(bits.clone()).figure(Effort::FirstOrder).steps[0].mathml;
    assert!(drawn.contains("<msup><mn>2</mn>") && !drawn.contains("exp"), "{drawn}");
    // Another factor is an exponential as ever.
    let other = (bits * 0.5).exp().called("growth", "g").working();
    assert_eq!(other, ["g = exp(n_A·0.5) = exp(12·0.5) = 403"]);

    let second =
        |time: f64| input("t", "t", D::TIME, time, time, time).written(&format!("{time} s")).worked();
    let step = |time: f64| Worked::known(time, "s", &format!("t_{time}"), "step", Origin::assumed("here"));
    let level =
        |value: f64| Worked::known(value, "A", &format!("I_{value}"), "level", Origin::assumed("here"));
    let stairs = |time: f64| {
        let low = Worked::when_below(step(1.0), second(time), level(5.0), level(6.0));
        Worked::when_below(step(10.0), second(time), level(4.0), low).called("allowed", "I")
    };
    let list = "I = (I_4 if t_10 < t, I_5 if t_1 < t, else I_6)";
    assert_eq!(stairs(20.0).working(), [format!("{list} = (4 A as 10 s < 20 s) = 4 A")]);
    assert_eq!(stairs(2.0).working(), [format!("{list} = (5 A as 1 s < 2 s) = 5 A")]);
    assert_eq!(stairs(1.0).working(), [format!("{list} = (6 A as 1 s ≥ 1 s) = 6 A")]);
    let drawn = &stairs(2.0).figure(Effort::FirstOrder).steps[0].mathml;
    assert_eq!(drawn.matches("<mtr>").count(), 3, "one row a case: {drawn}");
}

#[test]
fn shared_inputs_cancel_in_the_margin() {
    let b = bench();
    // Half the supply is below the supply whatever the supply is.
    let verdict = (&b.supply * 0.99).must_stay_below(b.supply.clone()).judge();
    assert_eq!(verdict.outcome, Outcome::Always);
    assert!((verdict.worst_margin - 0.01 * 22.8).abs() < 1e-9);
}

#[test]
fn a_claim_can_be_proven_without_a_datum() {
    let b = bench();
    let unknown =
        Input::new("motor.resistance", "resistance", "R", D::RESISTANCE).missing(1e-3, 1e4).worked();
    let low_limit = input("board.limit", "I_lim", D::CURRENT, 3.2, 3.2 * 0.88, 3.2 * 1.12).worked();
    let known = Bench { winding: unknown, limit: low_limit, ..b };
    assert_eq!(locked(&known).must_stay_below(known.peak.clone()).judge().outcome, Outcome::Always);
    let b = bench();
    let undecided = Bench { winding: known.winding, ..b };
    match locked(&undecided).must_stay_below(undecided.peak.clone()).judge().outcome {
        Outcome::Missing(inputs) => assert_eq!(&*inputs[0].path, "motor.resistance"),
        other => panic!("the limit alone does not decide: {other:?}"),
    }
}

#[test]
fn never_and_not_as_stated_are_told_apart() {
    let v = |low: f64, mid: f64, high: f64| input("u", "U", D::VOLTAGE, mid, low, high).worked();
    let limit = || input("l", "L", D::VOLTAGE, 10.0, 10.0, 10.0).worked();
    assert_eq!(v(11.0, 12.0, 13.0).must_stay_below(limit()).judge().outcome, Outcome::Never);
    assert_eq!(v(9.0, 12.0, 13.0).must_stay_below(limit()).judge().outcome, Outcome::NotAsStated);
    assert_eq!(v(9.0, 9.5, 13.0).must_stay_below(limit()).judge().outcome, Outcome::NotEverywhere);
    assert_eq!(
        v(9.0, 9.5, 10.0).must_stay_below(limit()).judge().outcome,
        Outcome::Always,
        "at the limit holds"
    );
    assert_eq!(v(10.0, 11.0, 12.0).must_stay_above(limit()).judge().outcome, Outcome::Always);
}

#[test]
fn a_domain_that_is_left_is_named() {
    let x = input("x", "x", D::NONE, 1.0, -1.0, 2.0).worked();
    let verdict = (1.0 / x).must_stay_below(5.0.into()).judge();
    assert_eq!(verdict.outcome, Outcome::Undefined("1 / x".to_owned()));
}

#[test]
fn a_faulty_equation_is_our_mistake() {
    let b = bench();
    let verdict = (b.supply + b.winding).must_stay_below(b.peak).judge();
    assert!(matches!(verdict.outcome, Outcome::Broken(_)));
}

#[test]
fn the_corridor_of_a_setting_over_several_claims() {
    let b = bench();
    let claims: Vec<Claim> = vec![
        // 4.5 / 1.12 = 4.018 A from above.
        locked(&b).must_stay_below(b.peak.clone()),
        // 0.88 · x ≥ 1.2 · 1.3 A: 1.7727 A from below.
        b.limit.clone().must_stay_above(1.2 * input("axis.current", "I", D::CURRENT, 1.3, 1.3, 1.3).worked()),
        // 1.12 · x · 27 mN·m/A · 27 ≤ 2.4 N·m: 2.9394 A from above.
        (&b.limit
            * input("motor.torque_constant", "K_t", D::MACHINE_CONSTANT, 0.027, 0.027, 0.027).worked()
            * 27.0)
            .must_stay_below(input("gear.peak_torque", "M_pk", D::TORQUE, 2.4, 2.4, 2.4).worked()),
    ];
    let found = corridor(&claims, "board.limit").expect("the limit takes part");
    let (low, high) = found.range.expect("there is room");
    assert!((low - 1.3 * 1.2 / 0.88).abs() < 1e-4 * low, "{low}");
    assert!((high - 2.4 / (0.027 * 27.0) / 1.12).abs() < 1e-4 * high, "{high}");
    assert_eq!((found.low_from, found.high_from), (Some(1), Some(2)));
    assert!(corridor(&claims, "motor.inertia").is_none());
}

#[test]
fn a_corridor_can_be_empty() {
    let b = bench();
    let amp = |v: f64| input("fixed", "I_f", D::CURRENT, v, v, v).worked();
    let claims = vec![b.limit.clone().must_stay_below(amp(1.0)), b.limit.clone().must_stay_above(amp(2.0))];
    assert_eq!(corridor(&claims, "board.limit").expect("it takes part").range, None);
}

/// 3000 parts x·(1 − x), none of which is monotone over 0 … 1: together between 0 and 750 A. A limit of 1000 A serves, but
/// to prove one value takes more than the work that a search may do.
#[test]
fn a_search_that_was_given_up_says_nothing() {
    let one = input("one", "I_1", D::CURRENT, 1.0, 1.0, 1.0).worked();
    let part = |k: usize| {
        let x = input(&format!("part.{k}"), "I", D::CURRENT, 0.5, 0.0, 1.0).worked();
        x.clone() - x.clone() * x / one.clone()
    };
    let sum: Worked = (0..3000).map(part).sum();
    let limit =
        input("board.limit", "I_lim", D::CURRENT, 10.0, 10.0, 10.0).setting(1.0, 2000.0, false).worked();
    let claim = sum.must_stay_below(limit);
    assert!(!claim.judge().holds());
    assert!(corridor(std::slice::from_ref(&claim), "board.limit").is_none());
    assert!(claim.changes().is_empty());
}

/// x·y/(x + y) is monotone, yet a natural interval cannot see it in a wide box; the split must.
#[test]
fn wide_boxes_are_split_until_they_agree() {
    let x = input("x", "x", D::RESISTANCE, 10.0, 5.0, 15.0).worked();
    let y = input("y", "y", D::RESISTANCE, 20.0, 10.0, 30.0).worked();
    let f = ((&x * &y) / (&x + &y)).figure(Effort::FirstOrder);
    let (low, high) = (f.low.expect("bounded"), f.high.expect("bounded"));
    assert!((low - 10.0 / 3.0).abs() < 1e-6 && (high - 10.0).abs() < 1e-6, "{low} {high}");
    let once = x.parallel(y).figure(Effort::FirstOrder);
    assert_eq!(once.bounds, worked::Bounds::Exact, "each stands once: a corner");
}

#[test]
fn two_parts_with_one_symbol_are_told_apart() {
    let r = |axis: &str| {
        input(&format!("axes.{axis}.motor.resistance"), "R", D::RESISTANCE, 2.0, 1.8, 2.2).worked()
    };
    let lines = (r("left") + r("right")).called("both", "R_sum").working();
    assert_eq!(lines, ["R_sum = R_left + R_right = 2 Ω + 2 Ω = 4 Ω"]);
}

#[test]
fn constants_name_their_standard() {
    let alpha = Worked::known(
        0.00393,
        "1/K",
        "α",
        "temperature coefficient of copper",
        Origin::standard("IEC 60028"),
    );
    let rise = input("rise", "ΔT", D::TEMPERATURE_DIFFERENCE, 50.0, 40.0, 60.0).worked();
    let figure = (1.0 + alpha * rise).called("factor", "k").figure(Effort::FirstOrder);
    assert!(figure.sources.iter().any(|s| s.origin == "IEC 60028"), "{:?}", figure.sources);
}
