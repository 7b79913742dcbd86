import type { Quantity } from './signal.js';
import {
  BOOST_ERROR,
  CHARGE_TEMPERATURE,
  COMPRESSOR_OUTLET,
  COMPRESSOR_RATIO,
  THROTTLE_DEFICIT,
} from './signals-air.js';
import {
  COOLANT,
  exhaust,
  FLUID,
  IGNITION_ERROR,
  KNOCK,
  LOW_PRESSURE,
  OIL,
  POWER,
  TARGET,
  TORQUE,
  TORQUE_AGAINST_ROAD,
  TORQUE_SHORTFALL,
} from './signals-engine.js';
import { FEED_SHORTAGE, INJECTION_ANGLE, INJECTOR_DUTY, RAIL_SHORTAGE } from './signals-fuel.js';
import { LAMBDA, MIXTURE_ERROR } from './signals-mixture.js';

/** Every quantity that a pull is cut from. */
export const QUANTITIES: readonly Quantity[] = Object.freeze([
  KNOCK,
  MIXTURE_ERROR,
  LAMBDA,
  TARGET,
  BOOST_ERROR,
  COMPRESSOR_RATIO,
  COMPRESSOR_OUTLET,
  CHARGE_TEMPERATURE,
  THROTTLE_DEFICIT,
  RAIL_SHORTAGE,
  FEED_SHORTAGE,
  INJECTOR_DUTY,
  INJECTION_ANGLE,
  exhaust('before-turbine'),
  exhaust('after-turbine'),
  exhaust('unknown'),
  IGNITION_ERROR,
  TORQUE,
  POWER,
  TORQUE_AGAINST_ROAD,
  TORQUE_SHORTFALL,
  LOW_PRESSURE,
  OIL,
  COOLANT,
  FLUID,
]);
