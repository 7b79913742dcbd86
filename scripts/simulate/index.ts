/**
 * Drive simulator with ground truth. Own module: it imports nothing from the packages, and its model forms differ from
 * what the estimators assume. Data of this module are invented; no real car, maker or product is meant.
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
