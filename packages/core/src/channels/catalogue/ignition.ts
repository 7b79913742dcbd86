import { type ChannelDefinition, definer } from '../definition.js';

const c = definer('ignition');
const CYLINDER = { positions: ['cylinder', 'bank'], number: 'cylinder' } as const;
const RETARD = 'positive = later ignition; sources also write it negative, the sign is inferred and reported';

/** Ignition angle and knock. */
export const IGNITION: readonly ChannelDefinition[] = [
  c(
    'ignitionAdvance',
    'deg',
    [-64, 70],
    'ignition advance | timing advance | spark advance | ignition timing | ignition angle | spark timing | spark angle | ignition timing advance | timing advance spark | advance angle ignition | ?timing | ?ignition',
    'Ignition angle before top dead centre',
    { ...CYLINDER, rate: 2000, resolution: 0.5, pid: '0E' },
  ),
  c(
    'ignitionAdvanceTarget',
    'deg',
    [-64, 70],
    'ignition advance target | ignition timing target | spark advance target | ignition angle target | timing advance target | spark timing target',
    'Ignition angle wanted',
    { ...CYLINDER, rate: 5000 },
  ),
  c(
    'ignitionAdvanceBase',
    'deg',
    [-64, 70],
    'ignition advance base | base ignition timing | base timing | base ignition angle | basic ignition angle | base spark timing | base spark advance | ignition timing base',
    'Ignition angle from the map, before corrections',
    CYLINDER,
  ),
  c(
    'ignitionAdvanceOptimal',
    'deg',
    [-64, 80],
    'optimal ignition angle | optimum ignition angle | optimal ignition timing | maximum brake torque spark (angle)',
    'Ignition angle of best torque',
    CYLINDER,
  ),
  c(
    'knockRetard',
    'deg',
    [-60, 60],
    'knock retard (angle) (timing) (value) | ignition retard (knock) (angle) | knock correction (ignition) (angle) | knock ignition retard | timing retard (knock) | spark retard (knock) | knock control retard | knock control (ignition) (correction) (angle) | timing correction knock | retard knock | ignition correction knock | ignition timing retard (knock) | timing correction (ignition) | knock retardation | ignition angle retard (knock) | ignition retardation (knock) (angle) | ignition angle knock correction | ignition timing correction (knock) | timing pulled | knock sum retard | sum knock retard | total knock retard | ~knock r | ~knockr | ?ignition correction | ?ignition angle correction | ?retard | ?knock',
    'Ignition taken back because of knock, per cylinder or the greatest',
    { ...CYLINDER, rate: 2000, sign: RETARD },
  ),
  c(
    'knockRetardMean',
    'deg',
    [-60, 60],
    'mean knock retard | average knock retard | average ignition retard (knock) | mean ignition retard | average knock correction | average timing retard | mean timing retard | average timing correction | mean knock correction',
    'Mean of the cylinders',
    { rate: 2000, sign: RETARD },
  ),
  c(
    'knockLearned',
    'deg',
    [-60, 60],
    'learned knock retard | knock retard learned | knock learning | knock adaptation | learned knock correction | knock control adaptation | long knock retard | learned ignition retard',
    'Retard that has been learned, apart from the live one',
    { ...CYLINDER, kind: 'stored', sign: RETARD },
  ),
  c(
    'octaneLearning',
    '%',
    [-100, 100],
    'octane learning | octane factor | learned octane | octane adaptation | octane correction | fuel quality factor | fuel quality adaptation | octane adjust ratio | octane adjustment | octane',
    'Learned fuel quality as the source shows it; polarity differs',
    { kind: 'stored' },
  ),
  c(
    'knockSensorVoltage',
    'V',
    [0, 30],
    'knock sensor voltage | knock voltage | knock sensor signal voltage | ?knock sensor (signal) (level) | ?knock signal | ?knock level',
    'Voltage of the knock sensor',
    { positions: ['sensor', 'cylinder', 'bank'], number: 'sensor', rate: 1e5 },
  ),
  c(
    'knockLevel',
    '1',
    [0, 1e5],
    'knock level | knock intensity | knock signal | knock sensor level | knock sensor (signal) (value) | knock noise | knock energy',
    'Filtered knock signal, source scale',
    { positions: ['sensor', 'cylinder', 'bank'], number: 'cylinder' },
  ),
  c('knockCount', '1', [0, 1e7], 'knock count | knock counter | knock events | knock sum', 'Knock events counted', {
    ...CYLINDER,
    kind: 'counter',
  }),
  c(
    'knockDetected',
    '1',
    [0, 1],
    'knock detected | knock active | knock detection | knock flag | knock event flag',
    'Knock recognised',
    { ...CYLINDER, kind: 'flag' },
  ),
  c(
    'ignitionDwell',
    'ms',
    [0, 30],
    'ignition dwell (time) | coil dwell (time) | dwell time | ignition coil dwell | coil charge time | dwell',
    'Coil charging time',
    CYLINDER,
  ),
  c('ignitionCut', '1', [0, 1], 'ignition cut (active) | spark cut (active)', 'Ignition is being cut', {
    kind: 'flag',
  }),
];
