import { type ChannelDefinition, definer } from '../definition.js';

const c = definer('wheels');
const WHEEL = { positions: ['wheel'] } as const;

/** One channel per wheel. */
export const WHEELS: readonly ChannelDefinition[] = [
  c(
    'wheelSpeed',
    'km/h',
    [-50, 450],
    'wheel speed (sensor) | wheel velocity | ?wheel | ~wheel speed sensor',
    'Circumferential speed of a wheel',
    { ...WHEEL, rate: 400 },
  ),
  c(
    'wheelRotation',
    'rpm',
    [-500, 4000],
    'wheel rotational speed | wheel rotation (speed) | ?wheel speed (sensor) | ?wheel',
    'Rotational speed of a wheel',
    { ...WHEEL, rate: 4000 },
  ),
  c('tyrePressure', 'bar', [0, 6], 'tyre pressure', 'Tyre pressure', { ...WHEEL, gauge: true }),
  c('tyreTemperature', 'degC', [-50, 200], 'tyre temp', 'Tyre temperature', WHEEL),
  c(
    'brakeTemperature',
    'degC',
    [-50, 1200],
    'brake temp | brake disc temp | brake rotor temp',
    'Brake disc temperature',
    { ...WHEEL, rate: 300 },
  ),
  c(
    'suspensionTravel',
    'mm',
    [-400, 400],
    'suspension travel | ride height | suspension height | damper travel | body height | damper position | suspension position',
    'Suspension travel or height',
    { ...WHEEL, rate: 5000 },
  ),
];
