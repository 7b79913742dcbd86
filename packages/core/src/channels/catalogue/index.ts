import type { ChannelDefinition } from '../definition.js';
import { AIR } from './air.js';
import { CHASSIS } from './chassis.js';
import { CLUTCH } from './clutch.js';
import { DRIVELINE } from './driveline.js';
import { ELECTRICAL } from './electrical.js';
import { ENGINE } from './engine.js';
import { ENGINE_STATE } from './engine-state.js';
import { EXHAUST } from './exhaust.js';
import { FUEL } from './fuel.js';
import { IGNITION } from './ignition.js';
import { STORED } from './stored.js';
import { TIME } from './time.js';
import { TRANSMISSION } from './transmission.js';
import { WHEELS } from './wheels.js';

/** Every channel the library knows, in the order of the systems; frozen. */
export const CHANNELS: readonly ChannelDefinition[] = Object.freeze([
  ...TIME,
  ...ENGINE,
  ...ENGINE_STATE,
  ...AIR,
  ...FUEL,
  ...IGNITION,
  ...EXHAUST,
  ...TRANSMISSION,
  ...CLUTCH,
  ...DRIVELINE,
  ...WHEELS,
  ...CHASSIS,
  ...ELECTRICAL,
  ...STORED,
]);
