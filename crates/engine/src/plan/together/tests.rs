use super::*;
use proptest::prelude::*;

/// Weekend of a small kitchen: work, a night in the fridge, one bake, one taking of starter, on a
/// coarse clock, so that much of it meets.
fn candidate() -> impl Strategy<Value = Candidate> {
    let work = prop::collection::vec((0..20, 1..3), 1..4);
    (0..40, work, 0..16, 1..4, 0..3, prop::option::of((0..12, 2..8, 1..4)), 0..3, 0..20).prop_map(
        |(cost, work, load, bake, reheat, night, grams, taking)| Candidate {
            cost: f64::from(cost) * 0.125,
            hands: work.into_iter().map(|(from, long)| (from, from + long)).collect(),
            oven: vec![OvenUse { reheat, load, until: load + bake }],
            fridge: night
                .map(|(from, long, litres)| (from, from + long, f64::from(litres)))
                .into_iter()
                .collect(),
            // shaped pieces stand in them until they are loaded
            bannetons: vec![(load - 3, load, grams as u32)],
            starter: vec![(taking, f64::from(grams) * 10.0)],
        },
    )
}

fn shared() -> impl Strategy<Value = Shared> {
    let stock = (1..6, prop::option::of(4..16)).prop_map(|(tens, feed)| Stock {
        grams: f64::from(tens) * 10.0,
        rebuilt: feed.into_iter().collect(),
    });
    let taken = prop::option::of((0..12, 2..8, 1..3));
    let limits = (prop::option::of(2..7), prop::option::of(0_u32..4), prop::option::of(stock));
    (limits, taken).prop_map(|((litres, bannetons, starter), taken)| {
        let taken = taken.map(|(from, long, litres)| (from, from + long, f64::from(litres)));
        Shared {
            fridge_litres: litres.map(f64::from),
            fridge_taken: taken.into_iter().collect(),
            bannetons,
            starter,
        }
    })
}

fn breads() -> impl Strategy<Value = Vec<Vec<Candidate>>> {
    prop::collection::vec(prop::collection::vec(candidate(), 1..7), 1..5)
}

/// Looks at every minute on its own, as a baker with a list would.
fn works(picks: &[&Candidate], shared: &Shared) -> bool {
    let periods = shared.starter.as_ref().map_or(&[][..], |s| &s.rebuilt);
    let starter = |c: &Candidate, from: i32, to: i32| -> f64 {
        c.starter.iter().filter(|s| from <= s.0 && s.0 < to).map(|s| s.1).sum()
    };
    (-3..48).all(|m| {
        let at_work = |c: &&&Candidate| c.hands.iter().any(|h| h.0 <= m && m < h.1);
        let in_oven =
            |c: &&&Candidate| c.oven.iter().any(|o| o.load - o.reheat <= m && m < o.until);
        let litres = |f: &&(i32, i32, f64)| f.0 <= m && m < f.1;
        let cold: f64 = picks.iter().flat_map(|c| &c.fridge).filter(litres).map(|f| f.2).sum();
        let taken: f64 = shared.fridge_taken.iter().filter(litres).map(|f| f.2).sum();
        let proofs = |b: &&(i32, i32, u32)| b.0 <= m && m < b.1;
        let baskets: u32 =
            picks.iter().flat_map(|c| &c.bannetons).filter(proofs).map(|b| b.2).sum();
        picks.iter().filter(at_work).count() <= 1
            && picks.iter().filter(in_oven).count() <= 1
            && (cold == 0.0 || shared.fridge_litres.is_none_or(|l| cold + taken <= l))
            && shared.bannetons.is_none_or(|n| baskets <= n)
    }) && shared.starter.as_ref().is_none_or(|stock| {
        let mut edges = vec![0];
        edges.extend(periods);
        edges.push(1000);
        edges
            .windows(2)
            .all(|w| picks.iter().map(|c| starter(c, w[0], w[1])).sum::<f64>() <= stock.grams)
    })
}

/// The cheapest of all combinations.
fn brute_force(breads: &[Vec<Candidate>], shared: &Shared) -> Option<f64> {
    fn go<'b>(
        breads: &'b [Vec<Candidate>],
        shared: &Shared,
        picks: &mut Vec<&'b Candidate>,
    ) -> Option<f64> {
        let Some((next, rest)) = breads.split_first() else {
            return works(picks, shared).then(|| picks.iter().map(|c| c.cost).sum());
        };
        let mut best: Option<f64> = None;
        for c in next {
            picks.push(c);
            if let Some(cost) = go(rest, shared, picks) {
                best = Some(best.map_or(cost, |b| b.min(cost)));
            }
            picks.pop();
        }
        best
    }
    go(breads, shared, &mut Vec::new())
}

fn cost(answer: &Together) -> Option<f64> {
    match answer {
        Together::Chosen(c) => {
            assert!(c.proven);
            Some(c.cost)
        }
        Together::Nothing(_) => None,
        Together::Unsettled => panic!("a small question stays open"),
    }
}

fn best(breads: &[Vec<Candidate>], shared: &Shared) -> Option<f64> {
    cost(&choose(breads, shared, Patience::default()))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn as_cheap_as_the_best_of_all_combinations(breads in breads(), shared in shared()) {
        let answer = choose(&breads, &shared, Patience::default());
        prop_assert_eq!(cost(&answer), brute_force(&breads, &shared));
        if let Together::Chosen(c) = &answer {
            let picks: Vec<&Candidate> =
                c.picks.iter().zip(&breads).map(|(&k, b)| &b[k]).collect();
            prop_assert!(works(&picks, &shared));
            let all: Vec<usize> = (0..breads.len()).collect();
            prop_assert_eq!(overlaps(&breads, &all, &c.picks, &shared), vec![]);
        }
    }

    #[test]
    fn a_clash_is_one_is_the_smallest_and_its_reliefs_work(
        breads in breads(),
        shared in shared(),
    ) {
        let Together::Nothing(clash) = choose(&breads, &shared, Patience::default()) else {
            return Ok(());
        };
        let some = |of: &[usize]| -> Vec<Vec<Candidate>> {
            of.iter().map(|&b| breads[b].clone()).collect()
        };
        prop_assert_eq!(brute_force(&some(&clash.breads), &shared), None);
        for left_out in &clash.breads {
            let fewer: Vec<usize> =
                clash.breads.iter().copied().filter(|b| b != left_out).collect();
            prop_assert!(brute_force(&some(&fewer), &shared).is_some());
        }
        for relief in &clash.reliefs {
            // without limit on what gives way the picks do work, and they meet in nothing else
            let picks: Vec<Candidate> =
                clash.breads.iter().zip(&relief.picks).map(|(&b, &k)| breads[b][k].clone()).collect();
            let (freed, eased) = without(&picks, &shared, &relief.of);
            prop_assert!(works(&freed.iter().collect::<Vec<_>>(), &eased));
            prop_assert!(!relief.overlaps.is_empty());
            for over in &relief.overlaps {
                prop_assert!(relief.of.contains(&over.resource));
                prop_assert!(over.at.0 <= over.at.1);
            }
            // each on the list is needed, and the picks are the cheapest
            let lists: Vec<Vec<Candidate>> = some(&clash.breads);
            let all: Vec<Vec<Candidate>> =
                lists.iter().map(|b| without(b, &shared, &relief.of).0).collect();
            prop_assert_eq!(brute_force(&all, &eased), Some(relief.cost));
        }
        prop_assert!(!clash.reliefs.is_empty());
    }

    #[test]
    fn more_room_never_costs_more(breads in breads(), shared in shared()) {
        let before = best(&breads, &shared);
        for of in Resource::ALL {
            let freed: Vec<Vec<Candidate>> =
                breads.iter().map(|b| without(b, &shared, &[of]).0).collect();
            let eased = without(&[], &shared, &[of]).1;
            let after = best(&freed, &eased);
            let no_dearer = match (before, after) {
                (None, _) => true,
                (Some(before), Some(after)) => after <= before,
                (Some(_), None) => false,
            };
            prop_assert!(no_dearer, "{of}: {before:?}, then {after:?}");
        }
    }

    #[test]
    fn the_order_of_breads_does_not_matter(
        (breads, mixed) in breads().prop_flat_map(|b| (Just(b.clone()), Just(b).prop_shuffle())),
        shared in shared(),
    ) {
        prop_assert_eq!(best(&breads, &shared), best(&mixed, &shared));
    }

    #[test]
    fn batches_of_one_bread(list in prop::collection::vec(candidate(), 1..7), shared in shared()) {
        let breads = vec![list; 3];
        prop_assert_eq!(best(&breads, &shared), brute_force(&breads, &shared));
    }

    #[test]
    fn cut_short_it_says_how_far_off_it_may_be(
        breads in breads(),
        shared in shared(),
        nodes in 0_u64..4,
    ) {
        let exact = brute_force(&breads, &shared);
        match choose(&breads, &shared, Patience { nodes }) {
            Together::Chosen(c) => {
                let exact = exact.expect("it was chosen");
                prop_assert!(c.least <= exact + 1e-8 && exact <= c.cost);
                prop_assert!(!c.proven || c.cost == exact);
                prop_assert!(c.gap() >= c.cost - exact - 1e-8);
            }
            Together::Nothing(_) => prop_assert_eq!(exact, None),
            Together::Unsettled => {}
        }
    }
}

/// The same candidates and kitchen, some resources without limit.
fn without(of: &[Candidate], shared: &Shared, free: &[Resource]) -> (Vec<Candidate>, Shared) {
    let (mut of, mut shared) = (of.to_vec(), shared.clone());
    for c in &mut of {
        if free.contains(&Resource::Hands) {
            c.hands.clear();
        }
        if free.contains(&Resource::Oven) {
            c.oven.clear();
        }
    }
    if free.contains(&Resource::Fridge) {
        shared.fridge_litres = None;
    }
    if free.contains(&Resource::Bannetons) {
        shared.bannetons = None;
    }
    if free.contains(&Resource::Starter) {
        shared.starter = None;
    }
    (of, shared)
}

/// A bread that is only baked.
fn baked(cost: f64, load: i32, until: i32) -> Candidate {
    Candidate { cost, oven: vec![OvenUse { reheat: 15, load, until }], ..Candidate::default() }
}

#[test]
fn two_want_the_oven_at_the_same_time() {
    let breads = vec![
        vec![baked(0.0, 600, 660)],
        vec![Candidate { cost: 1.0, hands: vec![(0, 10)], ..Candidate::default() }],
        vec![baked(0.0, 630, 690), baked(0.5, 640, 700)],
    ];
    let Together::Nothing(clash) = choose(&breads, &Shared::default(), Patience::default()) else {
        panic!("an oven of two");
    };
    assert_eq!(clash.breads, [0, 2]);
    let [relief] = &clash.reliefs[..] else { panic!("{:?}", clash.reliefs) };
    assert_eq!(relief.of, [Resource::Oven]);
    assert_eq!(relief.picks, [0, 0]);
    let over = Overlap { resource: Resource::Oven, breads: vec![0, 2], at: (615, 660) };
    assert_eq!(relief.overlaps, [over]);
}

#[test]
fn the_next_bread_waits_for_the_reheat_and_no_longer() {
    let wait = |minutes| vec![vec![baked(0.0, 600, 660)], vec![baked(0.0, 660 + minutes, 740)]];
    assert_eq!(best(&wait(14), &Shared::default()), None);
    assert_eq!(best(&wait(15), &Shared::default()), Some(0.0));
}

#[test]
fn a_bread_that_alone_is_too_much_is_named_alone() {
    let breads = vec![
        vec![Candidate { fridge: vec![(0, 600, 3.0)], ..Candidate::default() }],
        vec![Candidate { fridge: vec![(0, 600, 5.5)], ..Candidate::default() }],
        vec![],
    ];
    let kitchen = Shared { fridge_litres: Some(5.0), ..Shared::default() };
    let Together::Nothing(clash) = choose(&breads[..2], &kitchen, Patience::default()) else {
        panic!("it does not fit");
    };
    assert_eq!(clash.breads, [1]);
    assert_eq!(clash.reliefs[0].of, [Resource::Fridge]);
    // nor is anything chosen where there is nothing to choose from
    let Together::Nothing(clash) = choose(&breads, &Shared::default(), Patience::default()) else {
        panic!("no candidates");
    };
    assert_eq!(clash, Clash { breads: vec![2], reliefs: vec![] });
}

#[test]
fn no_bread_at_all_costs_nothing() {
    assert_eq!(best(&[], &Shared::default()), Some(0.0));
}

#[test]
fn nothing_odd_breaks_it() {
    let odd = [f64::NAN, f64::INFINITY, -1.0, 1e300, 0.0];
    let minutes = [i32::MIN, -5, 0, i32::MAX];
    let mut list = Vec::new();
    for x in odd {
        for m in minutes {
            list.push(Candidate {
                cost: x,
                hands: vec![(m, 7), (7, m), (m, m)],
                oven: vec![OvenUse { reheat: m, load: m, until: 9 }],
                fridge: vec![(m, 3, x), (3, m, x)],
                bannetons: vec![(m, 5, u32::MAX), (5, m, u32::MAX)],
                starter: vec![(m, x)],
            });
        }
    }
    for x in odd {
        let kitchen = Shared {
            fridge_litres: Some(x),
            fridge_taken: vec![(i32::MIN, i32::MAX, x)],
            bannetons: Some(u32::MAX),
            starter: Some(Stock { grams: x, rebuilt: vec![i32::MAX, i32::MIN] }),
        };
        choose(&[list.clone(), list.clone()], &kitchen, Patience::default());
    }
}
