//! The figures of `docs/performance.md`, measured side by side in one run.

#[cfg(feature = "figures")]
use crate::beside::{self, Ours};
use crate::scene::{
    Errors, KITCHENS, Line, STEP_MIN, STEPS_MIN, Scene, errors, kitchen, rustc, say,
};
use engine::ensemble::Ensemble;
use engine::numerics::lanes::{FLOPS_PER_ROUND, Operations, Width, multiply_and_add};
use engine::run::{Schedule, Setting};
use rayon::{ThreadPool, ThreadPoolBuilder};
use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

/// Doughs of one measurement, on all cores.
const DOUGHS: usize = 8192;
/// Measurements; the median counts.
pub(crate) const TIMES: usize = 9;

/// How fast something is, per second by the clock and per second of processor time. On a machine
/// that others use too only the second tells what the work takes.
#[derive(Clone, Copy, Default)]
pub(crate) struct Rate {
    pub(crate) clock: f64,
    pub(crate) processor: f64,
}

/// One measurement of work that does `n` things.
#[expect(clippy::disallowed_methods, reason = "this is where it is measured")]
pub(crate) fn measure<R>(n: f64, work: impl FnOnce() -> R) -> (Rate, R) {
    let (clock, processor) = (Instant::now(), processor_s());
    let result = work();
    let spent = clock.elapsed().as_secs_f64();
    (Rate { clock: n / spent, processor: n / (processor_s() - processor) }, result)
}

/// The median of several, after one that warms up.
pub(crate) fn usual(
    n: usize,
    times: usize,
    mut work: impl FnMut() -> Result<(), String>,
) -> Result<Rate, String> {
    work()?;
    let mut all = Vec::new();
    for _ in 0..times {
        let (rate, done) = measure(n as f64, &mut work);
        done?;
        all.push(rate);
    }
    let median = |of: fn(&Rate) -> f64| {
        let mut all: Vec<f64> = all.iter().map(of).collect();
        all.sort_by(f64::total_cmp);
        all[all.len() / 2]
    };
    Ok(Rate { clock: median(|r| r.clock), processor: median(|r| r.processor) })
}

/// Processor time of all threads of this process so far, s; NaN where the system does not tell.
fn processor_s() -> f64 {
    let Ok(threads) = std::fs::read_dir("/proc/self/task") else { return f64::NAN };
    let of = |thread: std::io::Result<std::fs::DirEntry>| {
        let text = std::fs::read_to_string(thread.ok()?.path().join("schedstat")).ok()?;
        text.split(' ').next()?.parse::<f64>().ok()
    };
    threads.map(|t| of(t).unwrap_or(f64::NAN)).sum::<f64>() / 1e9
}

fn threads(n: usize) -> Result<ThreadPool, String> {
    ThreadPoolBuilder::new().num_threads(n).build().map_err(say)
}

/// Floating-point operations per second on the widest registers, all threads of the pool at it.
/// The best of several: a peak is what can be, not what usually is.
fn peak(pool: &ThreadPool) -> Rate {
    let rounds = 10_000_000;
    let in_each = rounds as usize * FLOPS_PER_ROUND * Width::Widest.lanes();
    let flops = (in_each * pool.current_num_threads()) as f64;
    let mut best = Rate::default();
    for _ in 0..7 {
        let work = || pool.broadcast(|_| black_box(multiply_and_add(Width::Widest, rounds)));
        let (rate, _) = measure(flops, work);
        best.clock = best.clock.max(rate.clock);
        best.processor = best.processor.max(rate.processor);
    }
    best
}

/// What is measured.
struct Bench<'b> {
    setting: &'b Setting<'b>,
    schedule: &'b Schedule,
    cores: usize,
}

impl Bench<'_> {
    /// Whole doughs.
    fn doughs(&self, pool: &ThreadPool, width: Width, step_min: f64) -> Result<Rate, String> {
        let n = DOUGHS * pool.current_num_threads() / self.cores;
        pool.install(|| {
            usual(n, TIMES, || {
                Scene::many(self.setting, self.schedule, n, width, step_min)
                    .map(|d| drop(black_box(d)))
            })
        })
    }

    /// A table of widths and threads; gives the widest on all cores, and one dough at a time on one thread.
    fn widths(&self, cost: &Operations) -> Result<(Rate, Rate), String> {
        println!(
            "| doughs at once | threads | doughs/s | by thread | doughs per processor second | share of the peak |"
        );
        println!("|---|---|---|---|---|---|");
        let flops = cost.floating_point() as f64;
        let (mut best, mut alone) = (Rate::default(), Rate::default());
        let mut peaks = Vec::new();
        for n in [1, self.cores] {
            let pool = threads(n)?;
            let most = peak(&pool);
            for width in [Width::One, Width::Four, Width::Eight] {
                let rate = self.doughs(&pool, width, STEP_MIN)?;
                println!(
                    "| {} | {n} | {:.0} | {:.0} | {:.0} | {:.1} % |",
                    width.lanes(),
                    rate.clock,
                    rate.clock / n as f64,
                    rate.processor,
                    100.0 * flops * rate.processor / most.processor
                );
                if width == Width::Eight && n == self.cores {
                    best = rate;
                }
                if width == Width::One && n == 1 {
                    alone = rate;
                }
            }
            peaks.push((n, most));
        }
        println!();
        for (n, most) in peaks {
            println!(
                "Peak on {n}: {:.1} GFLOP/s, {:.1} per processor second.",
                most.clock / 1e9,
                most.processor / 1e9
            );
        }
        println!();
        Ok((best, alone))
    }

    /// A table of steps of time and their errors; gives those of the step that counts.
    fn steps(&self, fine: &[Vec<Line>]) -> Result<Errors, String> {
        println!(
            "| step, min | doughs/s | doughs per processor second | greatest error, %: volume | rise, of itself | pH | readiness |"
        );
        println!("|---|---|---|---|---|---|---|");
        let pool = threads(self.cores)?;
        let mut ours = Errors::default();
        for step_min in STEPS_MIN {
            let some = Scene::many(self.setting, self.schedule, KITCHENS, Width::Widest, step_min)?;
            let e = errors(&some, fine);
            let rate = self.doughs(&pool, Width::Widest, step_min)?;
            println!(
                "| {step_min} | {:.0} | {:.0} | {:.4} | {:.4} | {:.4} | {:.4} |",
                rate.clock, rate.processor, e.volume, e.rise, e.ph, e.readiness
            );
            if step_min == STEP_MIN {
                ours = e;
            }
        }
        println!();
        Ok(ours)
    }
}

/// Measures all and prints it.
pub(crate) fn figures(root: &Path) -> Result<(), String> {
    if cfg!(debug_assertions) {
        return Err(
            "measure the release build: cargo run --release -p xtask --features figures -- figures"
                .into(),
        );
    }
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    println!("Machine: {}; {cores} cores; load {}; {}.\n", processor(), load(), rustc());
    let scene = Scene::new()?;
    let setting = scene.setting()?;
    let schedule = scene.schedule(&setting)?;
    let fine: Vec<Vec<Line>> =
        (0..KITCHENS).map(|i| scene.fine(&setting, &schedule, i)).collect::<Result<_, _>>()?;
    let clock = Ensemble::by_clock(&setting, &schedule);
    let cost = clock.count(|| kitchen(KITCHENS / 2, STEP_MIN)).map_err(say)?;

    let bench = Bench { setting: &setting, schedule: &schedule, cores };
    let (best, one) = bench.widths(&cost)?;
    println!(
        "A dough: {} floating-point operations ({} additions, {} multiplications, {} divisions, {} roots) and {} others; {} steps, {} Runge-Kutta steps, {} sets of rates, {} steps of warmth.\n",
        cost.floating_point(),
        cost.additions,
        cost.multiplications,
        cost.divisions,
        cost.roots,
        cost.others,
        cost.steps,
        cost.runge_kutta,
        cost.rates,
        cost.warmth
    );
    let ours = bench.steps(&fine)?;

    #[cfg(feature = "figures")]
    {
        let ours = Ours { best, one, errors: ours, cores };
        beside::beside(root, &setting, &fine, &ours)?;
    }
    #[cfg(not(feature = "figures"))]
    {
        let _ = (root, best, one, ours);
        println!("\nBeside other people's integrators: with --features figures.");
    }
    println!("\nLoad at the end: {}.", load());
    Ok(())
}

pub(crate) fn load() -> String {
    let all = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    let three: Vec<&str> = all.split(' ').take(3).collect();
    if three.len() == 3 { three.join(" ") } else { "unknown".to_owned() }
}

pub(crate) fn processor() -> String {
    let all = std::fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    let of = |key: &str| {
        let line = all.lines().find(|l| l.starts_with(key))?;
        Some(line.split_once(": ")?.1.trim().to_owned())
    };
    let number = |key: &str| of(key).unwrap_or_else(|| "?".to_owned());
    of("model name").map_or_else(
        || "unknown".to_owned(),
        |name| format!("{name} (family {}, model {})", number("cpu family"), number("model\t")),
    )
}
