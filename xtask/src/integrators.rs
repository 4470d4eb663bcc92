//! General integrators of Rust for the coupled system: `ode_solvers` (Dormand and Prince, explicit)
//! and `diffsol` (implicit, for stiff systems).

use crate::coupled::{FERMENTATION, NODES, System};
use crate::scene::say;
use diffsol::{
    ConstantOp, Matrix, NalgebraContext, NalgebraLU, NalgebraMat, NalgebraVec, NonLinearOp,
    NonLinearOpJacobian, OdeBuilder, OdeEquations, OdeEquationsRef, OdeSolverMethod,
    OdeSolverStopReason, Op, UnitCallable, Vector, VectorCommon,
};
use ode_solvers::SVector;
use ode_solvers::dop_shared::OutputType;
use ode_solvers::dopri5::Dopri5;

/// Relative and absolute tolerance.
pub(crate) type Tolerance = (f64, f64);

/// An integrator.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) enum Method {
    Dopri5,
    Bdf,
    TrBdf2,
    Esdirk34,
}

impl Method {
    pub(crate) const ALL: [Self; 4] = [Self::Dopri5, Self::Bdf, Self::TrBdf2, Self::Esdirk34];

    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Dopri5 => "ode_solvers Dopri5",
            Self::Bdf => "diffsol BDF",
            Self::TrBdf2 => "diffsol TR-BDF2",
            Self::Esdirk34 => "diffsol ESDIRK34",
        }
    }

    /// Brings the states from 0 to some hours.
    pub(crate) fn integrate(
        self,
        system: &System<'_>,
        hours: f64,
        state: &mut [f64],
        (relative, absolute): Tolerance,
    ) -> Result<(), String> {
        if self == Self::Dopri5 {
            return dopri5(system, hours, state, (relative, absolute));
        }
        let ctx = NalgebraContext::default();
        let equations = Equations { system, start: state.to_vec(), ctx };
        let problem = OdeBuilder::<M>::new()
            .rtol(relative)
            .atol([absolute])
            .h0(hours)
            .build_from_eqn(equations)
            .map_err(say)?;
        match self {
            Self::Bdf => arrive(problem.bdf::<LU>().map_err(say)?, hours, state),
            Self::TrBdf2 => arrive(problem.tr_bdf2::<LU>().map_err(say)?, hours, state),
            _ => arrive(problem.esdirk34::<LU>().map_err(say)?, hours, state),
        }
    }
}

struct Explicit<'s>(&'s System<'s>);

/// All states.
type Y = SVector<f64, { FERMENTATION + NODES }>;

impl ode_solvers::System<f64, Y> for Explicit<'_> {
    fn system(&self, t: f64, y: &Y, dy: &mut Y) {
        self.0.change(t, y.as_slice(), dy.as_mut_slice());
    }
}

fn dopri5(
    system: &System<'_>,
    hours: f64,
    state: &mut [f64],
    (relative, absolute): Tolerance,
) -> Result<(), String> {
    let y = Y::from_column_slice(state);
    // as by default, but not giving up because the system is stiff
    let mut solver = Dopri5::from_param(
        Explicit(system),
        0.0,
        hours,
        hours,
        y,
        relative,
        absolute,
        0.9,
        0.04,
        0.2,
        10.0,
        hours,
        0.0,
        10_000_000,
        u32::MAX,
        OutputType::Sparse,
    );
    solver.integrate().map_err(say)?;
    state.copy_from_slice(solver.y_out().last().ok_or("the integrator gave nothing")?.as_slice());
    Ok(())
}

type M = NalgebraMat<f64>;
type V = NalgebraVec<f64>;
type LU = NalgebraLU<f64>;

/// The system as `diffsol` asks for it.
struct Equations<'s> {
    system: &'s System<'s>,
    start: Vec<f64>,
    ctx: NalgebraContext,
}

impl Op for Equations<'_> {
    type T = f64;
    type V = V;
    type M = M;
    type C = NalgebraContext;
    fn context(&self) -> &NalgebraContext {
        &self.ctx
    }
    fn nstates(&self) -> usize {
        self.start.len()
    }
    fn nout(&self) -> usize {
        self.start.len()
    }
    fn nparams(&self) -> usize {
        0
    }
}

impl NonLinearOp for Equations<'_> {
    fn call_inplace(&self, x: &V, t: f64, y: &mut V) {
        self.system.change(t, x.inner().as_slice(), y.inner_mut().as_mut_slice());
    }
}

impl NonLinearOpJacobian for Equations<'_> {
    fn jac_mul_inplace(&self, x: &V, t: f64, v: &V, y: &mut V) {
        let mut matrix = M::zeros(x.len(), x.len(), self.ctx);
        self.jacobian_inplace(x, t, &mut matrix);
        matrix.gemv(1.0, v, 0.0, y);
    }
    fn jacobian_inplace(&self, x: &V, _: f64, y: &mut M) {
        self.system.jacobian(x.inner().as_slice(), y.inner_mut().as_mut_slice());
    }
}

impl ConstantOp for Equations<'_> {
    fn call_inplace(&self, _: f64, y: &mut V) {
        y.inner_mut().as_mut_slice().copy_from_slice(&self.start);
    }
}

impl<'a> OdeEquationsRef<'a> for Equations<'_> {
    type Mass = UnitCallable<M>;
    type Rhs = &'a Self;
    type Root = UnitCallable<M>;
    type Init = &'a Self;
    type Out = UnitCallable<M>;
    type Reset = UnitCallable<M>;
}

impl OdeEquations for Equations<'_> {
    fn rhs(&self) -> &Self {
        self
    }
    fn mass(&self) -> Option<UnitCallable<M>> {
        None
    }
    fn init(&self) -> &Self {
        self
    }
    fn set_params(&mut self, _: &V) {}
    fn get_params(&self, _: &mut V) {}
}

fn arrive<'p, 's: 'p>(
    mut solver: impl OdeSolverMethod<'p, Equations<'s>>,
    hours: f64,
    state: &mut [f64],
) -> Result<(), String> {
    solver.set_stop_time(hours).map_err(say)?;
    while solver.step().map_err(say)? != OdeSolverStopReason::TstopReached {}
    state.copy_from_slice(solver.state().y.inner().as_slice());
    Ok(())
}
