//! How the loaf is baked, and how finely that is worked out.

use super::sound;
use crate::crust::DoneWhen;
use crate::hearth::{Hearth, Pot, Stage};
use quantity::{Celsius, Minutes};

/// How the loaf is baked.
#[derive(Debug, Clone, PartialEq)]
pub struct Programme {
    /// One after the other.
    pub stages: Vec<Stage>,
    /// What the loaf stands on.
    pub hearth: Hearth,
    /// Paper or a mat below.
    pub paper: bool,
    /// Pot around it.
    pub pot: Option<Pot>,
    /// A logged oven: air and walls follow it instead of knob, sag and fall at loading.
    pub logged: Vec<(Minutes, Celsius)>,
    /// When the bread counts as done.
    pub done_when: DoneWhen,
}

impl Programme {
    /// One setting, on a grid.
    pub fn at(knob: Celsius, minutes: Minutes) -> Self {
        Self::of(vec![Stage::at(knob, minutes)])
    }

    /// Stages, on a grid.
    pub fn of(stages: Vec<Stage>) -> Self {
        Self {
            stages,
            hearth: Hearth::Grid,
            paper: false,
            pot: None,
            logged: Vec::new(),
            done_when: DoneWhen::LEAN,
        }
    }

    /// Whole length, held to two days.
    pub fn minutes(&self) -> Minutes {
        let sum: f64 = self.stages.iter().map(|s| s.minutes.0.max(0.0)).sum();
        Minutes(sound(sum, 0.0, 2880.0, 0.0))
    }
}

/// How finely the kernel works.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Resolution {
    /// For a slider: core within half a minute of the fine grid.
    Preview,
    /// For a result.
    #[default]
    Publish,
    /// For thousands of loaves: as coarse as what is asked of them allows. Against the fine grid
    /// core within half a minute, loss within a point, L* within 2.
    Ensemble,
    /// For checks: 10, 12, 15, 20, 30, 40, 60 or 120 cells (the next larger is taken) and a step in
    /// seconds, best one that divides a minute.
    Exactly {
        /// Cells from core to surface.
        cells: usize,
        /// Step, s.
        dt_s: f64,
    },
}

impl Resolution {
    pub(super) fn cells(self) -> usize {
        match self {
            Self::Ensemble => 12,
            Self::Preview => 20,
            Self::Publish => 40,
            Self::Exactly { cells, .. } => cells,
        }
    }

    /// Temperature that a step leaves unbalanced at most, K; it is carried to the next.
    pub(super) fn tolerance_k(self) -> f64 {
        match self {
            Self::Ensemble => 0.2,
            Self::Preview | Self::Publish | Self::Exactly { .. } => 1e-3,
        }
    }

    /// Step at a time, s: short while the skin heats and the gradients are steep.
    pub(super) fn step_s(self, t_s: f64) -> f64 {
        match self {
            Self::Ensemble if t_s < 300.0 => 15.0,
            Self::Ensemble => 20.0,
            Self::Preview if t_s < 300.0 => 5.0,
            Self::Preview => 10.0,
            Self::Publish if t_s < 300.0 => 2.0,
            Self::Publish => 5.0,
            Self::Exactly { dt_s, .. } => sound(dt_s, 0.05, 60.0, 5.0),
        }
    }
}
