//! Work that is done on all cores at once.

use std::sync::atomic::{AtomicUsize, Ordering};

/// What `work` makes of 0, 1, 2 … `count` − 1, in this order, whoever came to it when. Each core keeps a state of its
/// own, which must not change what comes out.
pub(crate) fn side_by_side<S, T: Send>(
    count: usize,
    state: impl Fn() -> S + Sync,
    work: impl Fn(&mut S, usize) -> T + Sync,
) -> Vec<T> {
    let next = AtomicUsize::new(0);
    let share = || {
        let mut own = state();
        let mut done: Vec<(usize, T)> = Vec::new();
        loop {
            let place = next.fetch_add(1, Ordering::Relaxed);
            if place >= count {
                return done;
            }
            done.push((place, work(&mut own, place)));
        }
    };
    let workers = std::thread::available_parallelism().map_or(1, usize::from).min(8);
    let mut done: Vec<(usize, T)> = std::thread::scope(|scope| {
        let threads: Vec<_> = (1..workers).map(|_| scope.spawn(share)).collect();
        let mut done = share();
        for thread in threads {
            done.extend(thread.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        }
        done
    });
    done.sort_by_key(|(place, _)| *place);
    done.into_iter().map(|(_, made)| made).collect()
}

#[cfg(test)]
mod tests {
    use super::side_by_side;

    #[test]
    fn the_order_is_that_of_the_places() {
        let squares = side_by_side(1000, || (), |(), k| k * k);
        assert!(squares.iter().enumerate().all(|(k, square)| *square == k * k) && squares.len() == 1000);
        assert!(side_by_side(0, || (), |(), k| k).is_empty());
    }
}
