import { type ChannelDefinition, definer, TEMPERATURE_ENDS } from '../definition.js';

const c = definer('clutch');
/** Dual clutch: 1 serves the odd gears, 2 the even ones. */
const EACH = { positions: ['clutch'], number: 'clutch' } as const;

/** Friction clutches; clutch 1 serves the odd gears, clutch 2 the even ones. */
export const CLUTCH: readonly ChannelDefinition[] = [
  c('clutchPressure', 'bar', [-0.5, 60], 'clutch pressure (hydraulic)', 'Actuating pressure of a clutch', {
    ...EACH,
    gauge: true,
    rate: 1000,
  }),
  c('clutchPressureTarget', 'bar', [0, 60], 'clutch pressure target', 'Clutch pressure wanted', {
    ...EACH,
    gauge: true,
    rate: 3000,
  }),
  c(
    'clutchCurrent',
    'A',
    [0, 10],
    'clutch current | clutch valve current | clutch solenoid current',
    'Current of the clutch valve',
    { ...EACH, rate: 500 },
  ),
  c(
    'clutchTorque',
    'N.m',
    [-200, 3000],
    'clutch torque (transmitted) | clutch torque capacity | torque transmitted clutch | clutch capacity',
    'Torque that the clutch can transmit, as modelled',
    { ...EACH, rate: 20000 },
  ),
  c('clutchTorqueTarget', 'N.m', [-200, 3000], 'clutch torque target', 'Clutch torque wanted', {
    ...EACH,
    rate: 50000,
  }),
  c(
    'clutchPosition',
    'mm',
    [-5, 60],
    'clutch position | clutch travel | clutch actuator position | clutch actuator travel',
    'Travel of the clutch actuator',
    { ...EACH, rate: 1000 },
  ),
  c(
    'clutchPositionTarget',
    'mm',
    [-5, 60],
    'clutch position target | clutch travel target | clutch actuator position target',
    'Travel wanted',
    { ...EACH, rate: 3000 },
  ),
  c(
    'clutchTemperature',
    'degC',
    [-50, 500],
    'clutch temp | clutch surface temp',
    'Clutch temperature, usually modelled',
    { ...EACH, rate: 500, sentinels: TEMPERATURE_ENDS },
  ),
  c(
    'clutchOilTemperature',
    'degC',
    [-50, 300],
    'clutch oil temp | clutch oil outlet temp | clutch outlet temp | clutch fluid temp | clutch fluid outlet temp | clutch cooling oil temp',
    'Oil leaving the clutches',
    { ...EACH, rate: 50, sentinels: TEMPERATURE_ENDS, place: 'clutch-outlet' },
  ),
  c(
    'clutchSlip',
    'rpm',
    [-8000, 8000],
    'clutch slip (speed) | clutch speed difference | clutch slippage',
    'Speed difference over the clutch',
    { ...EACH, rate: 30000 },
  ),
  c(
    'clutchCoolingFlow',
    'L/min',
    [0, 60],
    'clutch cooling flow | clutch cooling (oil) flow | clutch oil flow',
    'Oil flow through the clutch',
    EACH,
  ),
  c(
    'clutchTouchPoint',
    'bar',
    [-5, 60],
    'clutch touch point | clutch kiss point | clutch bite point | clutch contact point | clutch engagement point | touch point | kiss point | clutch touch point adaptation | bite point',
    'Learned touch point as pressure',
    { ...EACH, kind: 'stored', gauge: true },
  ),
  c(
    'clutchTouchPointTravel',
    'mm',
    [-5, 60],
    '?clutch touch point (position) | ?clutch kiss point | ?clutch bite point | ?touch point | ?kiss point | ?clutch contact point | ?clutch engagement point',
    'Learned touch point as travel',
    { ...EACH, kind: 'stored' },
  ),
  c(
    'clutchAdaptation',
    '%',
    [-200, 200],
    'clutch adaptation | clutch adaption | clutch adaptation factor | clutch friction adaptation | clutch friction factor | clutch friction coefficient adaptation',
    'Learned friction or torque correction',
    { ...EACH, kind: 'stored' },
  ),
  c(
    'clutchWear',
    '%',
    [-50, 200],
    'clutch wear (index) | clutch wear percent | clutch life used',
    'Wear index as stored',
    { ...EACH, kind: 'stored' },
  ),
  c(
    'clutchEnergy',
    'kJ',
    [0, 1e9],
    'clutch energy | clutch friction energy | clutch dissipated energy | clutch heat energy',
    'Friction energy put into the clutch',
    { ...EACH, kind: 'stored' },
  ),
  c('clutchPedalPosition', '%', [-5, 110], 'clutch pedal (position) | cpp', 'Clutch pedal', { rate: 2000 }),
  c('clutchSwitch', '1', [0, 1], 'clutch switch | clutch pedal switch | clutch pedal pressed', 'Clutch pedal switch', {
    kind: 'flag',
  }),
];
