/**
 * Drive simulator with ground truth.
 *
 *   const drive = drawDrive({ seed: 7, faults: [{ rule: 'engine.knock', level: 'repair' }] }); // or write a DriveSpec
 *   const sim = simulate(drive.spec);             // signals by channel id, sim.truth = what really happened
 *   const file = toCsv(record(sim, drive.record), drive.dialect); // bytes as a logger writes them, and the columns
 *
 * - `simulate` integrates at 200 Hz: driver and script, transmission (two clutches, converter, or one clutch), engine
 *   with boost lag, mixture control with trims, knock control per cylinder, tyres and axles, heat, voltage.
 * - `record` is the logger (rate, refresh, noise, steps, lag, lost rows, sentinels); `toCsv` the writing (dialect).
 * - `FAULTS` has one family a rule: `apply` puts a fault of a level into a draft, `truth` says what a perfect observer
 *   of the finished drive would find, `decoys` look like the fault and are none. A new rule adds faults/<topic>.ts.
 * - Everything follows from the seed: same spec, same bytes. No clock, no other source of chance.
 *
 * Own module: it imports nothing from the packages, and its model forms differ from what the estimators assume
 * (tyres with slip, boost and manifold lag, residual gas, transport delays), so that agreement means something.
 * Cars, recordings and numbers are invented; no real car, maker or product is meant. Coefficients without a named
 * source are common practice.
 *
 * Known simplifications: no torsional shuffle or judder of the driveline, no cylinder-by-cylinder torque, no yaw
 * dynamics (wheels differ by steering geometry only), oil and fuel pressure follow their targets, one road grip for all
 * wheels. An over-temperature fault leads the fluid to its dialled peak instead of computing it from a lost cooler.
 */
export { airDensity, standardAtmosphere } from './atmosphere.js';
export { type CarSpec, roadLoad, rollingRadius } from './car.js';
export { CARS, carById } from './cars.js';
export { fullSet, serviceSet } from './channel-sets.js';
export { toCsv, type WrittenColumn, type WrittenFile } from './csv.js';
export { type Dialect, drawDialect, PLAIN } from './dialect.js';
export { DRIVE_KINDS, type DrawnDrive, type DriveKind, type DriveWish, drawDrive } from './drives.js';
export { FAULTS } from './faults/catalogue.js';
export {
  type DriveDraft,
  type Expectation,
  type FaultFamily,
  insertWarm,
  type Level,
  type TrueFinding,
} from './faults/fault.js';
export { injectionOf } from './fuel-system.js';
export { type CarMemory, memoryFiles } from './memory.js';
export { Plant } from './plant.js';
export { profileOf } from './profile.js';
export { Random } from './random.js';
export {
  type ChannelSetting,
  type Disturbance,
  type Recorded,
  type RecordedColumn,
  type RecordSpec,
  record,
} from './record.js';
export { SCENARIOS, type Scenario } from './scenarios.js';
export type { Phase, PhaseKind } from './script.js';
export { type Ambient, type DriveSpec, type Simulation, simulate } from './simulate.js';
export type { Truth } from './truth.js';
