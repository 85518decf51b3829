//! Drawings on paper: nothing is lost, nothing too small, nothing wider than the page.

use super::super::layout::Face;
use super::super::paper::Paper;
use super::super::{Drawing, Stage};
use super::*;

/// What a printer leaves of A4 and of US letter (210 × 297 mm, 215.9 × 279.4 mm) inside of margins of 8 and 10 mm.
const UPRIGHT: [f64; 2] = [210.0 - 16.0, 279.4 - 20.0];
const TURNED: [f64; 2] = [279.4 - 16.0, 210.0 - 20.0];

/// What is wrong with a drawing on paper.
pub(super) fn wrong_on_paper(drawing: &Drawing, whole: &[Rect]) -> Vec<String> {
    let paper = &drawing.paper;
    let mut wrong = Vec::new();
    // 1 pt is 1/72 inch.
    let letters = Face::SMALLEST * paper.scale * 72.0 / 25.4;
    if letters < 5.999 {
        wrong.push(format!("letters of {letters} pt"));
    }
    let room = if paper.turned { TURNED } else { UPRIGHT };
    let parts: Vec<Rect> = paper.parts.iter().map(|[x, y, w, h]| Rect::new(*x, *y, *w, *h)).collect();
    for part in &parts {
        if part.w * paper.scale > room[0] + 1e-6 || part.h * paper.scale > room[1] + 1e-6 {
            wrong.push(format!("{part:?} at {} is larger than the page", paper.scale));
        }
    }
    for rect in whole.iter().filter(|rect| rect.w < 130.0 && rect.h < 130.0) {
        if !parts.iter().any(|part| rect.lies_in(&part.grown(0.5))) {
            wrong.push(format!("{rect:?} is whole on no page: {parts:?}"));
        }
    }
    wrong
}

#[test]
fn starters_print_legibly() {
    for files in builtin::starters() {
        let bench = bench::load_from(&files).value.expect("a bench");
        let scene = Scene::of(&bench, &Planned::default(), &Power::default(), &[]);
        for stage in Stage::ALL {
            let drawing = scene.stage(stage);
            assert_eq!(wrong_on_paper(&drawing, &scene.layout.whole(stage)), Vec::<String>::new());
        }
        let shown = Shown { bench: &bench, wiring: &Planned::default(), side: Side::Stated };
        let whole = lay_out(shown).0.whole(Stage::Power);
        let drawing = connectors(&bench, &Planned::default(), Side::Stated);
        assert_eq!(wrong_on_paper(&drawing, &whole), Vec::<String>::new());
    }
}

/// By hand: letters of 10.5 px are 6 pt where a pixel is 6/10.5 pt, 0.2016 mm.
#[test]
fn the_page_is_turned_and_cut_where_it_has_to_be() {
    let small = Paper::of([560.0, 400.0], "", &[]);
    // At full size, 96 pixels an inch.
    assert!(
        (small.scale - 25.4 / 96.0).abs() < 1e-9 && small.parts == [[0.0, 0.0, 560.0, 400.0]],
        "{small:?}"
    );
    // 194 mm take 962 px upright; 263 mm take 1304 px on a page that lies.
    let wide = Paper::of([1250.0, 600.0], "", &[]);
    assert!(wide.turned && wide.parts.len() == 1, "{wide:?}");
    let high = Paper::of([900.0, 1100.0], "", &[]);
    assert!(!high.turned && high.parts.len() == 1, "{high:?}");
    let box_in_the_way = Rect::new(300.0, 700.0, 100.0, 120.0);
    let large = Paper::of([1250.0, 1300.0], "", &[box_in_the_way]);
    assert!(large.turned && large.parts.len() == 2, "{large:?}");
    let cut = large.parts[0][3];
    assert!(!(700.0 < cut && cut < 820.0), "{large:?}");
    let larger = Paper::of([3000.0, 1300.0], "", &[]);
    let area: f64 = larger.parts.iter().map(|[_, _, w, h]| w * h).sum();
    assert!(larger.parts.len() > 3 && (area - 3000.0 * 1300.0).abs() < 1.0, "{larger:?}");
}
