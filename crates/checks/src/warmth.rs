//! Ours for dough that cools and warms.

use super::properties::largest_gap;
use crate::Values;
use engine::warmth::series::{Ideal, Series};
use engine::warmth::{Air, Body, DoughThermal, Shape, Vessel, geometry, heat_of_fermentation};
use quantity::{Celsius, Grams, Hours, Millimetres};

const STEP: Hours = Hours(0.125);
const COLD: Celsius = Celsius(4.0);
const WARM: Celsius = Celsius(24.0);
const DOUGH: DoughThermal = DoughThermal::LIGHTLY_RISEN;
/// 24 to 8 °C in a fridge of 4 °C is a fall to a fifth.
const LN_5: f64 = 1.609_437_912_434_1;

/// Adds the values of this subject.
pub(crate) fn values(out: &mut Values) {
    series(out);
    kernel(out);
    constants(out);
    trajectories(out);
    vessels(out);
}

fn body(shape: Shape, kg: f64, u: f64) -> Body {
    let mut body = Body::new(Grams(1000.0 * kg), Vessel::Bench, shape, WARM, DOUGH);
    body.move_to(Air::Exactly(u));
    body
}

fn exactly(r_mm: f64, m: f64) -> Shape {
    Shape::Exactly { r: Millimetres(r_mm), m }
}

fn rest(body: &mut Body, hours: f64, air: Celsius, heat: f64) {
    let steps = (hours / STEP.0).round() as usize;
    for _ in 0..steps {
        body.step(STEP, air, heat);
    }
}

/// Bi 0.1 to 100: ζ1, C1, core at Fo 0.2 and 0.5, mean at 0.5, core at 1.
const BIOT: [f64; 7] = [0.1, 0.5, 1.0, 2.0, 5.0, 10.0, 100.0];
const SLAB: [[f64; 7]; 6] = [
    [0.31105, 0.65327, 0.86033, 1.07687, 1.31384, 1.42887, 1.55525],
    [1.01609, 1.07013, 1.11913, 1.17846, 1.24025, 1.26196, 1.27309],
    [0.99400, 0.97260, 0.95064, 0.91789, 0.86488, 0.82925, 0.77936],
    [0.96798, 0.86411, 0.77253, 0.65962, 0.52311, 0.45464, 0.37985],
    [0.95257, 0.80433, 0.68110, 0.53962, 0.38517, 0.31502, 0.24422],
    [0.92239, 0.69838, 0.53386, 0.36956, 0.22072, 0.16382, 0.11334],
];
const CYLINDER: [[f64; 7]; 6] = [
    [0.44168, 0.94077, 1.25578, 1.59945, 1.98981, 2.17950, 2.38090],
    [1.02458, 1.11425, 1.20709, 1.33838, 1.50287, 1.56769, 1.60152],
    [0.98367, 0.92666, 0.87017, 0.78999, 0.67142, 0.60023, 0.51271],
    [0.92934, 0.71575, 0.54859, 0.37240, 0.20755, 0.14580, 0.09410],
    [0.90688, 0.63949, 0.44738, 0.26539, 0.12046, 0.07477, 0.04144],
    [0.84299, 0.45985, 0.24938, 0.10365, 0.02867, 0.01356, 0.00553],
];
#[allow(clippy::approx_constant)] // ζ1 of the sphere at Bi 1 is π/2, printed so
const SPHERE: [[f64; 7]; 6] = [
    [0.54228, 1.16556, 1.57080, 2.02876, 2.57043, 2.83630, 3.11019],
    [1.02980, 1.14411, 1.27324, 1.47932, 1.78700, 1.92491, 1.99903],
    [0.97021, 0.86871, 0.77231, 0.64334, 0.47225, 0.38266, 0.28794],
    [0.88899, 0.58004, 0.37078, 0.18893, 0.06568, 0.03448, 0.01586],
    [0.86312, 0.50498, 0.28700, 0.12177, 0.03136, 0.01363, 0.00497],
    [0.76743, 0.29408, 0.10798, 0.02413, 0.00241, 0.00062, 0.00013],
];

fn series(out: &mut Values) {
    for (ideal, table, ids) in [
        (
            Ideal::Slab,
            SLAB,
            [
                "warmth-series-slab-zeta",
                "warmth-series-slab-c",
                "warmth-series-slab-core-02",
                "warmth-series-slab-core-05",
                "warmth-series-slab-mean-05",
                "warmth-series-slab-core-1",
            ],
        ),
        (
            Ideal::Cylinder,
            CYLINDER,
            [
                "warmth-series-cylinder-zeta",
                "warmth-series-cylinder-c",
                "warmth-series-cylinder-core-02",
                "warmth-series-cylinder-core-05",
                "warmth-series-cylinder-mean-05",
                "warmth-series-cylinder-core-1",
            ],
        ),
        (
            Ideal::Sphere,
            SPHERE,
            [
                "warmth-series-sphere-zeta",
                "warmth-series-sphere-c",
                "warmth-series-sphere-core-02",
                "warmth-series-sphere-core-05",
                "warmth-series-sphere-mean-05",
                "warmth-series-sphere-core-1",
            ],
        ),
    ] {
        let all = BIOT.map(|bi| Series::new(ideal, bi));
        let ours = [
            all.map(|s| s.first().0),
            all.map(|s| s.first().1),
            all.map(|s| s.at(0.0, 0.2)),
            all.map(|s| s.at(0.0, 0.5)),
            all.map(|s| s.mean(0.5)),
            all.map(|s| s.at(0.0, 1.0)),
        ];
        for ((id, ours), printed) in ids.into_iter().zip(ours).zip(table) {
            out.insert(id, largest_gap(ours, printed));
        }
    }
}

/// Largest gap of core and mean against the series over 12 h in the fridge.
fn against_series(ideal: Ideal, mut body: Body) -> (f64, f64) {
    let series = Series::new(ideal, body.biot());
    let (r, _) = body.geometry();
    let (mut core, mut mean): (f64, f64) = (0.0, 0.0);
    for n in 1..=96 {
        body.step(STEP, COLD, 0.0);
        let fo = DOUGH.diffusivity() * STEP.0 * 3600.0 * f64::from(n) / (r * r);
        let at = |theta: f64| COLD.0 + (WARM - COLD).0 * theta;
        core = core.max((body.core().0 - at(series.at(0.0, fo))).abs());
        mean = mean.max((body.mean().0 - at(series.mean(fo))).abs());
    }
    (core, mean)
}

fn kernel(out: &mut Values) {
    let (mut core, mut mean, mut slab, mut cylinder): (f64, f64, f64, f64) = (0.0, 0.0, 0.0, 0.0);
    for u in [5.0, 8.0, 15.0] {
        for kg in [0.5, 1.0, 2.0, 5.0] {
            let gaps = against_series(Ideal::Sphere, body(Shape::Lump, kg, u));
            (core, mean) = (core.max(gaps.0), mean.max(gaps.1));
        }
        for r in [30.0, 50.0, 70.0] {
            slab = slab.max(against_series(Ideal::Slab, body(exactly(r, 0.0), 1.0, u)).0);
            let round = body(exactly(r, 1.0), 1.0, u);
            cylinder = cylinder.max(against_series(Ideal::Cylinder, round).0);
        }
    }
    out.extend([
        ("warmth-kernel-core", core),
        ("warmth-kernel-mean", mean),
        ("warmth-kernel-slab", slab),
        ("warmth-kernel-cylinder", cylinder),
    ]);
    let thermal = DoughThermal { cp: 2886.0, ..DOUGH };
    let mut closed = Body::new(Grams(1000.0), Vessel::Exactly(1e3), Shape::Lump, WARM, thermal);
    closed.step(Hours(1.0), WARM, 0.57);
    out.insert("warmth-adiabatic", (closed.mean() - WARM).0);
}

fn constants(out: &mut Values) {
    let cases = [
        (0.5, 5.0, "warmth-cool-core-0.5kg-h5", "warmth-cool-mean-0.5kg-h5"),
        (1.0, 5.0, "warmth-cool-core-1kg-h5", "warmth-cool-mean-1kg-h5"),
        (2.0, 5.0, "warmth-cool-core-2kg-h5", "warmth-cool-mean-2kg-h5"),
        (5.0, 5.0, "warmth-cool-core-5kg-h5", "warmth-cool-mean-5kg-h5"),
        (0.5, 8.0, "warmth-cool-core-0.5kg-h8", "warmth-cool-mean-0.5kg-h8"),
        (1.0, 8.0, "warmth-cool-core-1kg-h8", "warmth-cool-mean-1kg-h8"),
        (2.0, 8.0, "warmth-cool-core-2kg-h8", "warmth-cool-mean-2kg-h8"),
        (5.0, 8.0, "warmth-cool-core-5kg-h8", "warmth-cool-mean-5kg-h8"),
    ];
    let bodies = cases.map(|(kg, u, _, _)| body(Shape::Lump, kg, u));
    let mut slowest = [0.0; 8];
    let (mut mended, mut plain): (f64, f64) = (0.0, 0.0);
    for (i, (b, (kg, _, core_id, mean_id))) in bodies.iter().zip(cases).enumerate() {
        let (r, _) = b.geometry();
        let series = Series::new(Ideal::Sphere, b.biot());
        let unit_h = r * r / DOUGH.diffusivity() / 3600.0;
        slowest[i] = unit_h / (series.first().0 * series.first().0);
        let mean = unit_h * series.time_to(0.2, true);
        out.insert(core_id, unit_h * series.time_to(0.2, false));
        out.insert(mean_id, mean);
        let departs = 100.0 * (b.lumped_hours() / slowest[i] - 1.0).abs();
        if kg < 3.0 {
            mended = mended.max(departs);
        } else {
            out.insert("warmth-mended-5kg", departs); // the last is h 8
        }
        plain = plain.max(100.0 * (1.0 - b.plain_lumped_hours() * LN_5 / mean));
    }
    out.insert("warmth-mended-to-2kg", mended);
    out.insert("warmth-plain-error", plain);
    let gap = |ours: [f64; 8], printed: [f64; 8]| largest_gap(ours, printed);
    out.insert(
        "warmth-tau-biot",
        gap(bodies.map(|b| b.biot()), [0.71, 0.89, 1.12, 1.53, 1.13, 1.43, 1.80, 2.44]),
    );
    out.insert(
        "warmth-tau-lumped",
        gap(
            bodies.map(|b| b.plain_lumped_hours()),
            [2.42, 3.05, 3.85, 5.22, 1.51, 1.91, 2.40, 3.26],
        ),
    );
    out.insert(
        "warmth-tau-slowest",
        gap(slowest, [2.79, 3.64, 4.79, 7.00, 1.89, 2.51, 3.38, 5.12]),
    );
    out.insert(
        "warmth-tau-cool-lumped",
        gap(
            bodies.map(|b| b.plain_lumped_hours() * LN_5),
            [3.90, 4.91, 6.19, 8.40, 2.44, 3.07, 3.87, 5.25],
        ),
    );
    out.insert(
        "warmth-tau-mended",
        gap(bodies.map(|b| b.lumped_hours()), [2.77, 3.60, 4.71, 6.81, 1.86, 2.45, 3.27, 4.85]),
    );
}

fn trajectories(out: &mut Values) {
    let mut one = body(Shape::Lump, 1.0, 8.0);
    let mut before = 0.0;
    for (hour, air, core, mean) in [
        (1.0, 4.0, "warmth-fv-1kg-1-core", "warmth-fv-1kg-1-mean"),
        (2.0, 4.0, "warmth-fv-1kg-2-core", "warmth-fv-1kg-2-mean"),
        (4.0, 4.0, "warmth-fv-1kg-4-core", "warmth-fv-1kg-4-mean"),
        (8.0, 4.0, "warmth-fv-1kg-8-core", "warmth-fv-1kg-8-mean"),
        (12.0, 4.0, "warmth-fv-1kg-12-core", "warmth-fv-1kg-12-mean"),
        (13.0, 22.0, "warmth-fv-1kg-13-core", "warmth-fv-1kg-13-mean"),
        (14.0, 22.0, "warmth-fv-1kg-14-core", "warmth-fv-1kg-14-mean"),
    ] {
        rest(&mut one, hour - before, Celsius(air), 0.0);
        before = hour;
        out.extend([(core, one.core().0), (mean, one.mean().0)]);
    }
    for (start, rows) in [
        (
            body(Shape::Lump, 2.0, 8.0),
            &[
                (2.0, "warmth-fv-2kg-2-core", "warmth-fv-2kg-2-mean"),
                (4.0, "warmth-fv-2kg-4-core", "warmth-fv-2kg-4-mean"),
                (8.0, "warmth-fv-2kg-8-core", "warmth-fv-2kg-8-mean"),
                (12.0, "warmth-fv-2kg-12-core", "warmth-fv-2kg-12-mean"),
            ][..],
        ),
        (
            body(exactly(40.0, 0.0), 1.0, 5.1),
            &[
                (1.0, "warmth-fv-slab-1-core", "warmth-fv-slab-1-mean"),
                (4.0, "warmth-fv-slab-4-core", "warmth-fv-slab-4-mean"),
            ][..],
        ),
    ] {
        let (mut body, mut before) = (start, 0.0);
        for &(hour, core, mean) in rows {
            rest(&mut body, hour - before, COLD, 0.0);
            before = hour;
            out.extend([(core, body.core().0), (mean, body.mean().0)]);
        }
    }
    let mut bulk = body(Shape::Lump, 2.0, 8.0);
    bulk.set_uniform(Celsius(26.0));
    rest(&mut bulk, 6.0, Celsius(26.0), 0.57);
    out.extend([("warmth-bulk-core", bulk.core().0), ("warmth-bulk-mean", bulk.mean().0)]);
    out.insert("warmth-heat-litre", heat_of_fermentation(1000.0 / 24.4));
}

fn vessels(out: &mut Values) {
    out.extend([
        ("warmth-u-tub", Vessel::Tub.transfer(Air::Still)),
        ("warmth-u-bowl", Vessel::Bowl.transfer(Air::Still)),
        ("warmth-u-banneton", Vessel::Banneton.transfer(Air::Still)),
        ("warmth-u-bag", Vessel::Bag.transfer(Air::Still)),
    ]);
    let mm = Millimetres;
    let (r, m) = geometry(0.35 / 270.0, Shape::Log { length: mm(550.0) });
    out.extend([("warmth-shape-baguette-r", 1000.0 * r), ("warmth-shape-baguette-m", m)]);
    let (r, m) = geometry(0.9 / 300.0, Shape::Boule { width: mm(220.0) });
    out.extend([("warmth-shape-boule-height", 200.0 * r), ("warmth-shape-boule-m", m)]);
    let tin = Shape::Tin { length: mm(220.0), width: mm(105.0) };
    out.insert("warmth-shape-tin-m", geometry(0.105 * 0.115 * 0.22, tin).1);
}
