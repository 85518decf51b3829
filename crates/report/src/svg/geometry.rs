//! Boxes, clipping and the few sums of plane geometry that charts need. All in pixels, y downwards.

/// A point in pixels.
pub(crate) type Pixel = [f64; 2];

/// Data far outside the chart end here, so that differences of coordinates stay finite.
const FAR: f64 = 1e7;

/// An upright box.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Rect {
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) w: f64,
    pub(crate) h: f64,
}

impl Rect {
    pub(crate) fn new(x: f64, y: f64, w: f64, h: f64) -> Self {
        Self { x, y, w, h }
    }

    pub(crate) fn right(&self) -> f64 {
        self.x + self.w
    }

    pub(crate) fn bottom(&self) -> f64 {
        self.y + self.h
    }

    pub(crate) fn grown(&self, by: f64) -> Self {
        Self::new(self.x - by, self.y - by, self.w + 2.0 * by, self.h + 2.0 * by)
    }

    pub(crate) fn overlaps(&self, other: &Self) -> bool {
        self.x < other.right() && other.x < self.right() && self.y < other.bottom() && other.y < self.bottom()
    }

    pub(crate) fn lies_in(&self, outer: &Self) -> bool {
        self.x >= outer.x
            && self.y >= outer.y
            && self.right() <= outer.right()
            && self.bottom() <= outer.bottom()
    }

    pub(crate) fn has(&self, p: Pixel) -> bool {
        p[0] >= self.x && p[0] <= self.right() && p[1] >= self.y && p[1] <= self.bottom()
    }

    fn corners(&self) -> [Pixel; 4] {
        [[self.x, self.y], [self.right(), self.y], [self.right(), self.bottom()], [self.x, self.bottom()]]
    }
}

/// A coordinate that later sums can bear; not-a-number stays what it is.
pub(super) fn tame(v: f64) -> f64 {
    v.clamp(-FAR, FAR)
}

/// The part of a segment inside the box (Liang and Barsky's method).
pub(super) fn clip_segment(a: Pixel, b: Pixel, r: &Rect) -> Option<(Pixel, Pixel)> {
    let d = [b[0] - a[0], b[1] - a[1]];
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (p, q) in
        [(-d[0], a[0] - r.x), (d[0], r.right() - a[0]), (-d[1], a[1] - r.y), (d[1], r.bottom() - a[1])]
    {
        if p == 0.0 {
            if q < 0.0 {
                return None;
            }
        } else if p < 0.0 {
            enter = enter.max(q / p);
        } else {
            leave = leave.min(q / p);
        }
    }
    if enter > leave {
        return None;
    }
    let at = |t: f64| [a[0] + t * d[0], a[1] + t * d[1]];
    Some((if enter > 0.0 { at(enter) } else { a }, if leave < 1.0 { at(leave) } else { b }))
}

/// The runs of a polyline inside the box. Points that are not finite break it.
pub(super) fn clip_polyline(points: &[Pixel], r: &Rect) -> Vec<Vec<Pixel>> {
    let mut runs: Vec<Vec<Pixel>> = Vec::new();
    let mut open = false;
    for pair in points.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let finite = a.iter().chain(&b).all(|v| v.is_finite());
        let Some((from, to)) = finite.then(|| clip_segment(a, b, r)).flatten() else {
            open = false;
            continue;
        };
        match runs.last_mut() {
            Some(run) if open && from == a => run.push(to),
            _ => runs.push(vec![from, to]),
        }
        open = to == b;
    }
    runs
}

/// The part of a polygon inside the box (Sutherland and Hodgman's method).
pub(super) fn clip_polygon(points: &[Pixel], r: &Rect) -> Vec<Pixel> {
    let mut out = points.to_vec();
    // Each side of the box: the axis, the value, and which side of it is inside.
    for (axis, at, above) in [(0, r.x, true), (0, r.right(), false), (1, r.y, true), (1, r.bottom(), false)] {
        let inside = |p: &Pixel| if above { p[axis] >= at } else { p[axis] <= at };
        let cut = |a: &Pixel, b: &Pixel| {
            let t = (at - a[axis]) / (b[axis] - a[axis]);
            let mut p = [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
            p[axis] = at;
            p
        };
        let mut next = Vec::with_capacity(out.len() + 4);
        for (i, b) in out.iter().enumerate() {
            let a = &out[(i + out.len() - 1) % out.len()];
            match (inside(a), inside(b)) {
                (true, true) => next.push(*b),
                (true, false) => next.push(cut(a, b)),
                (false, true) => next.extend([cut(a, b), *b]),
                (false, false) => {}
            }
        }
        out = next;
    }
    out
}

/// Whether a point lies in a polygon (even-odd).
pub(super) fn in_polygon(p: Pixel, polygon: &[Pixel]) -> bool {
    let mut inside = false;
    for (i, b) in polygon.iter().enumerate() {
        let a = polygon[(i + polygon.len() - 1) % polygon.len()];
        let crosses = (a[1] > p[1]) != (b[1] > p[1]);
        if crosses && p[0] < (b[0] - a[0]) * (p[1] - a[1]) / (b[1] - a[1]) + a[0] {
            inside = !inside;
        }
    }
    inside
}

/// Whether a box lies wholly in a polygon: its corners do, and no edge runs through it.
pub(super) fn box_in_polygon(r: &Rect, polygon: &[Pixel]) -> bool {
    polygon.len() > 2
        && r.corners().iter().all(|c| in_polygon(*c, polygon))
        && (0..polygon.len())
            .all(|i| clip_segment(polygon[i], polygon[(i + 1) % polygon.len()], &r.grown(-0.01)).is_none())
}

/// Moves stacked items apart so that none overlap, each as near to its wish as the others allow: the
/// least-squares solution by pooling neighbours. `items` are wished centre and height, sorted by centre; the
/// result are centres within `top` and `bottom`, which must be far enough apart for the sum of heights.
pub(super) fn spread(items: &[(f64, f64)], top: f64, bottom: f64) -> Vec<f64> {
    struct Pool {
        count: usize,
        height: f64,
        /// Sum over members of the top edge that each member would give the pool.
        wished_tops: f64,
    }
    impl Pool {
        fn top(&self, top: f64, bottom: f64) -> f64 {
            (self.wished_tops / self.count as f64).min(bottom - self.height).max(top)
        }
    }
    let mut pools: Vec<Pool> = Vec::new();
    for (centre, height) in items {
        let mut pool = Pool { count: 1, height: *height, wished_tops: centre - height / 2.0 };
        while let Some(above) = pools.last() {
            if above.top(top, bottom) + above.height <= pool.top(top, bottom) {
                break;
            }
            pool = Pool {
                count: above.count + pool.count,
                height: above.height + pool.height,
                wished_tops: above.wished_tops + pool.wished_tops - pool.count as f64 * above.height,
            };
            pools.pop();
        }
        pools.push(pool);
    }
    let mut centres = Vec::with_capacity(items.len());
    let mut next = items.iter();
    for pool in &pools {
        let mut y = pool.top(top, bottom);
        for (_, height) in next.by_ref().take(pool.count) {
            centres.push(y + height / 2.0);
            y += height;
        }
    }
    centres
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const UNIT: Rect = Rect { x: 0.0, y: 0.0, w: 10.0, h: 10.0 };

    #[test]
    fn segments_are_cut_at_the_box() {
        // By hand: the line y = x − 5 meets the box in (5, 0) and (10, 5).
        assert_eq!(clip_segment([-5.0, -10.0], [20.0, 15.0], &UNIT), Some(([5.0, 0.0], [10.0, 5.0])));
        assert_eq!(clip_segment([-5.0, 11.0], [20.0, 11.0], &UNIT), None);
        assert_eq!(clip_segment([2.0, 3.0], [2.0, 3.0], &UNIT), Some(([2.0, 3.0], [2.0, 3.0])));
    }

    #[test]
    fn a_curve_that_leaves_and_returns_gives_two_runs() {
        let curve = [[1.0, 5.0], [5.0, 15.0], [9.0, 5.0], [9.5, f64::NAN], [3.0, 3.0], [4.0, 4.0]];
        let runs = clip_polyline(&curve, &UNIT);
        assert_eq!(
            runs,
            vec![vec![[1.0, 5.0], [3.0, 10.0]], vec![[7.0, 10.0], [9.0, 5.0]], vec![[3.0, 3.0], [4.0, 4.0]],]
        );
    }

    /// Area by the shoelace formula.
    fn area(p: &[Pixel]) -> f64 {
        (0..p.len())
            .map(|i| {
                let (a, b) = (p[i], p[(i + 1) % p.len()]);
                (a[0] * b[1] - b[0] * a[1]) / 2.0
            })
            .sum::<f64>()
            .abs()
    }

    #[test]
    fn polygons_are_cut_at_the_box() {
        // A diamond around the corner (10, 10) of the box: one quarter of it is inside.
        let diamond = [[10.0, 4.0], [16.0, 10.0], [10.0, 16.0], [4.0, 10.0]];
        let cut = clip_polygon(&diamond, &UNIT);
        assert!((area(&cut) - 72.0 / 4.0).abs() < 1e-9, "{cut:?}");
        assert!(clip_polygon(&[[20.0, 20.0], [30.0, 20.0], [30.0, 30.0]], &UNIT).is_empty());
    }

    proptest! {
        #[test]
        fn spread_items_keep_order_and_distance(
            wishes in proptest::collection::vec((-50.0..350.0_f64, 5.0..20.0_f64), 1..14),
        ) {
            let mut items = wishes;
            items.sort_by(|a, b| a.0.total_cmp(&b.0));
            let centres = spread(&items, 0.0, 300.0);
            prop_assert_eq!(centres.len(), items.len());
            let mut edge = 0.0;
            for (centre, (_, height)) in centres.iter().zip(&items) {
                prop_assert!(centre - height / 2.0 >= edge - 1e-9);
                edge = centre + height / 2.0;
            }
            prop_assert!(edge <= 300.0 + 1e-9);
        }
    }

    #[test]
    fn items_with_room_stay_where_they_wish() {
        assert_eq!(spread(&[(20.0, 10.0), (60.0, 10.0)], 0.0, 100.0), vec![20.0, 60.0]);
        // Two that wish the same place part evenly (the least-squares answer).
        assert_eq!(spread(&[(50.0, 10.0), (50.0, 10.0)], 0.0, 100.0), vec![45.0, 55.0]);
    }
}
