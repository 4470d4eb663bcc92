//! Ours for what the slow reference implementation printed: its loaves, contact, sensitivity.

use super::{at, boule, held, log, plain, reaches, reference, rod};
use crate::Values;
use engine::bake::{BakeParameters, BakeTrace, Loaf, Programme, Resolution, bake_with};
use engine::hearth::{Hearth, Oven, Slab, Stage, Steam};
use quantity::{Celsius, Kilopascal, Millimetres, Minutes, TempRise};

pub(super) fn values(out: &mut Values) {
    baguette(out);
    loaves(out);
    contact(out);
    sensitivity(out);
}

fn bag() -> Loaf {
    log(0.35, 550.0, 270.0, 22.0)
}

fn steamed(t: f64, minutes: f64) -> Programme {
    plain(t, minutes, held(40.0, 6.0))
}

/// More of the reference baguette than its core and weight.
fn baguette(out: &mut Values) {
    let trace = reference(&bag(), &steamed(245.0, 25.0), 30, 2.0);
    out.insert("bake-ref-t93", reaches(&trace, 93.0));
    out.insert("bake-ref-t98", reaches(&trace, 98.0));
    for (ids, minute) in [
        (["bake-ref-mean-5", "bake-ref-lightness-5", "bake-ref-change-5"], 5.0),
        (["bake-ref-mean-10", "bake-ref-lightness-10", "bake-ref-change-10"], 10.0),
        (["bake-ref-mean-15", "bake-ref-lightness-15", "bake-ref-change-15"], 15.0),
        (["bake-ref-mean-20", "bake-ref-lightness-20", "bake-ref-change-20"], 20.0),
        (["bake-ref-mean-25", "bake-ref-lightness-25", "bake-ref-change-25"], 25.0),
    ] {
        out.insert(ids[0], at(&trace, minute, |s| s.mean.0));
        out.insert(ids[1], at(&trace, minute, |s| s.lightness));
        out.insert(ids[2], at(&trace, minute, |s| s.browning));
    }
    out.insert("bake-ref-surface-25", at(&trace, 25.0, |s| s.top_surface.0));
    out.insert("bake-ref-loss-25", at(&trace, 25.0, |s| s.loss.0));
    out.insert("bake-ref-dry-25", at(&trace, 25.0, |s| s.dry_zone.0));
    // the surface knows no plateau: it passes 120 °C on its way
    let pair = trace.minutes.windows(2).find(|w| w[1].top_surface.0 >= 120.0);
    let passes = pair.map_or(f64::NAN, |w| {
        let (a, b) = (w[0].top_surface.0, w[1].top_surface.0);
        w[0].minute.0 + (120.0 - a) / (b - a)
    });
    out.insert("bake-ref-surface-120", passes);
}

/// Times to 93, 96, 98 °C; core, surface, loss, dry zone, L* at the end.
fn end(out: &mut Values, ids: [&'static str; 8], trace: &BakeTrace, minute: f64) {
    out.insert(ids[0], reaches(trace, 93.0));
    out.insert(ids[1], reaches(trace, 96.0));
    out.insert(ids[2], reaches(trace, 98.0));
    out.insert(ids[3], at(trace, minute, |s| s.core.0));
    out.insert(ids[4], at(trace, minute, |s| s.top_surface.0));
    out.insert(ids[5], at(trace, minute, |s| s.loss.0));
    out.insert(ids[6], at(trace, minute, |s| s.dry_zone.0));
    out.insert(ids[7], at(trace, minute, |s| s.lightness));
}

macro_rules! ids {
    ($name:literal) => {
        [
            concat!("bake-ref-", $name, "-t93"),
            concat!("bake-ref-", $name, "-t96"),
            concat!("bake-ref-", $name, "-t98"),
            concat!("bake-ref-", $name, "-core"),
            concat!("bake-ref-", $name, "-surface"),
            concat!("bake-ref-", $name, "-loss"),
            concat!("bake-ref-", $name, "-dry"),
            concat!("bake-ref-", $name, "-lightness"),
        ]
    };
}

fn loaves(out: &mut Values) {
    let falling = {
        let mut p = steamed(250.0, 20.0);
        p.stages.push(Stage::at(Celsius(215.0), Minutes(22.0)));
        p
    };
    let (round, small) = (boule(0.9, 220.0, 0.9, 15.0), boule(0.5, 175.0, 0.9, 15.0));
    let cases: [([&'static str; 8], Loaf, Programme); 7] = [
        (ids!("dry"), bag(), plain(245.0, 22.0, Steam::None)),
        (ids!("bag335"), log(0.335, 600.0, 270.0, 22.0), steamed(250.0, 20.0)),
        (ids!("batard"), log(0.7, 300.0, 290.0, 15.0), steamed(235.0, 35.0)),
        (ids!("boule500"), small, steamed(230.0, 34.0)),
        (ids!("boule900"), round.clone(), steamed(230.0, 46.0)),
        (ids!("boule1800"), boule(1.8, 280.0, 0.9, 15.0), steamed(230.0, 66.0)),
        (ids!("fridge"), boule(0.9, 220.0, 0.9, 5.0), steamed(230.0, 46.0)),
    ];
    for (ids, loaf, programme) in cases {
        let minute = match ids[0] {
            "bake-ref-boule500-t93" => 32.0,
            "bake-ref-boule900-t93" | "bake-ref-fridge-t93" => 42.0,
            "bake-ref-boule1800-t93" => 60.0,
            _ => programme.minutes().0,
        };
        // the step of the long bakes is not printed; 3 s is inferred from the times to 93 °C
        let dt_s = if minute > 30.0 { 3.0 } else { 2.0 };
        end(out, ids, &reference(&loaf, &programme, 30, dt_s), minute);
    }
    // tins: half-width 5.25 cm, m 1.39; their walls' emissivity and start are inferred
    for (ids, t, minutes) in [
        (
            [
                "bake-ref-pan200-t93",
                "bake-ref-pan200-t96",
                "bake-ref-pan200-t98",
                "bake-ref-pan200-core",
            ],
            200.0,
            40.0,
        ),
        (
            [
                "bake-ref-pan210-t93",
                "bake-ref-pan210-t96",
                "bake-ref-pan210-t98",
                "bake-ref-pan210-core",
            ],
            210.0,
            37.0,
        ),
        (
            [
                "bake-ref-pan220-t93",
                "bake-ref-pan220-t96",
                "bake-ref-pan220-t98",
                "bake-ref-pan220-core",
            ],
            220.0,
            35.0,
        ),
    ] {
        let trace =
            reference(&rod(52.5, 1.39, 330.0, 0.9, 25.0), &plain(t, minutes, Steam::None), 30, 3.0);
        out.insert(ids[0], reaches(&trace, 93.0));
        out.insert(ids[1], reaches(&trace, 96.0));
        out.insert(ids[2], reaches(&trace, 98.0));
        out.insert(ids[3], at(&trace, minutes, |s| s.core.0));
    }
    let trace = reference(&round, &falling, 30, 3.0);
    out.insert("bake-ref-falling-core", at(&trace, 42.0, |s| s.core.0));
    out.insert("bake-ref-falling-lightness", at(&trace, 42.0, |s| s.lightness));
    // what the reference prints of these loaves beside core, loss and lightness
    let more = |loaf: &Loaf, p: &Programme| {
        let trace = reference(loaf, p, 30, 2.0);
        let last = p.minutes().0;
        (at(&trace, last, |s| s.top_surface.0), at(&trace, last, |s| s.dry_zone.0))
    };
    let mut fan = steamed(230.0, 20.0);
    fan.stages[0].fan = true;
    for (surface, dry, loaf, programme) in [
        ("bake-ref-fan-surface", "bake-ref-fan-dry", bag(), fan),
        (
            "bake-ref-demi-surface",
            "bake-ref-demi-dry",
            log(0.18, 300.0, 270.0, 22.0),
            steamed(245.0, 19.0),
        ),
        (
            "bake-ref-ficelle-surface",
            "bake-ref-ficelle-dry",
            log(0.18, 500.0, 270.0, 22.0),
            steamed(245.0, 15.0),
        ),
    ] {
        let (t, mm) = more(&loaf, &programme);
        out.insert(surface, t);
        out.insert(dry, mm);
    }
    let high = Oven { pressure: Kilopascal(78.5), ..Oven::FIRST };
    let fine = Resolution::Exactly { cells: 30, dt_s: 2.0 };
    let trace = bake_with(&bag(), &high, &steamed(245.0, 22.0), fine, &BakeParameters::FIRST);
    out.insert("bake-ref-high-t93", reaches(&trace, 93.0));
    out.insert("bake-ref-high-surface", at(&trace, 22.0, |s| s.top_surface.0));
    out.insert("bake-ref-high-dry", at(&trace, 22.0, |s| s.dry_zone.0));
    out.insert("bake-ref-high-lightness", at(&trace, 22.0, |s| s.lightness));
}

/// The core's column touching its hearth with a share of the surface.
fn contact(out: &mut Values) {
    let of = |loaf: &Loaf, programme: &Programme, share: f64, slab: Slab, start: f64| {
        let mut programme = programme.clone();
        programme.hearth = Hearth::Slab(slab, Some(Celsius(start)));
        let parameters =
            BakeParameters { contact: share / loaf.measures().base, ..BakeParameters::FIRST };
        let fine = Resolution::Exactly { cells: 30, dt_s: 2.0 };
        let trace = bake_with(loaf, &Oven::FIRST, &programme, fine, &parameters);
        (reaches(&trace, 96.0), at(&trace, programme.minutes().0, |s| s.loss.0))
    };
    let programme = steamed(245.0, 22.0);
    let stone = of(&bag(), &programme, 0.15, Slab::cordierite(Millimetres(20.0)), 240.0);
    let sheet = of(&bag(), &programme, 0.15, Slab::sheet(), 20.0);
    out.insert("bake-contact-stone-15-t96", stone.0);
    out.insert("bake-contact-stone-15-loss", stone.1);
    out.insert("bake-contact-sheet-15-t96", sheet.0);
    out.insert("bake-contact-sheet-15-loss", sheet.1);
}

/// One number changed at a time: time to 96 °C, loss and L* at 22 min.
fn sensitivity(out: &mut Values) {
    type Change = fn(&mut Loaf, &mut Oven, &mut BakeParameters);
    let cases: [([&'static str; 3], Change); 13] = [
        (["bake-sense-air-t96", "bake-sense-air-loss", "bake-sense-air-lightness"], |_, o, _| {
            o.convection = 12.0;
        }),
        (["bake-sense-black-t96", "bake-sense-black-loss", "bake-sense-black-lightness"], {
            |_, o, _| o.emissivity = 0.9
        }),
        (["bake-sense-hot-t96", "bake-sense-hot-loss", "bake-sense-hot-lightness"], {
            |_, o, _| o.loaded_sag = TempRise(0.0)
        }),
        (["bake-sense-cool-t96", "bake-sense-cool-loss", "bake-sense-cool-lightness"], {
            |_, o, _| o.loaded_sag = TempRise(20.0)
        }),
        (
            [
                "bake-sense-crust-20-t96",
                "bake-sense-crust-20-loss",
                "bake-sense-crust-20-lightness",
            ],
            { |_, _, p| p.conductivity.k_dry = 0.2 },
        ),
        (
            [
                "bake-sense-crust-08-t96",
                "bake-sense-crust-08-loss",
                "bake-sense-crust-08-lightness",
            ],
            { |_, _, p| p.conductivity.k_dry = 0.08 },
        ),
        (["bake-sense-crumb-6-t96", "bake-sense-crumb-6-loss", "bake-sense-crumb-6-lightness"], {
            |_, _, p| p.conductivity.k_vapour = 0.6
        }),
        (
            [
                "bake-sense-crumb-10-t96",
                "bake-sense-crumb-10-loss",
                "bake-sense-crumb-10-lightness",
            ],
            |_, _, p| p.conductivity.k_vapour = 1.0,
        ),
        (["bake-sense-water-8-t96", "bake-sense-water-8-loss", "bake-sense-water-8-lightness"], {
            |l, _, _| l.water_per_solids = 0.8
        }),
        (
            [
                "bake-sense-water-10-t96",
                "bake-sense-water-10-loss",
                "bake-sense-water-10-lightness",
            ],
            |l, _, _| l.water_per_solids = 1.0,
        ),
        (["bake-sense-cold-t96", "bake-sense-cold-loss", "bake-sense-cold-lightness"], {
            |l, _, _| l.profile = vec![(Celsius(5.0), 1.0)]
        }),
        (["bake-sense-light-t96", "bake-sense-light-loss", "bake-sense-light-lightness"], {
            |l, _, _| l.density_kg_m3 = 230.0
        }),
        (["bake-sense-dense-t96", "bake-sense-dense-loss", "bake-sense-dense-lightness"], {
            |l, _, _| l.density_kg_m3 = 310.0
        }),
    ];
    for (ids, change) in cases {
        let (mut loaf, mut oven, mut parameters) = (bag(), Oven::FIRST, BakeParameters::FIRST);
        change(&mut loaf, &mut oven, &mut parameters);
        let fine = Resolution::Exactly { cells: 30, dt_s: 2.0 };
        let trace = bake_with(&loaf, &oven, &steamed(245.0, 22.0), fine, &parameters);
        out.insert(ids[0], reaches(&trace, 96.0));
        out.insert(ids[1], at(&trace, 22.0, |s| s.loss.0));
        out.insert(ids[2], at(&trace, 22.0, |s| s.lightness));
    }
}
