import { OVERSHOOT_HELD, STEADY_HELD } from '../derived/boost-dynamics.js';
import { isRefusal } from '../derived/recipe.js';
import { readPull } from './measure.js';
import { boost, type MeasureDefinition, measure, ruled } from './measure-definition.js';
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
  ENRICHED,
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

const CP = 'common practice, no source';
/** lambda. Common practice, no source. */
const ASKED_LOWER = 0.05;

/** In the order in which a sheet tells them: what breaks an engine first. */
export const MEASURES: readonly MeasureDefinition[] = Object.freeze([
  measure(
    'knock.worst',
    'worst knock retard',
    KNOCK,
    { kind: 'highest', seconds: 0.1 },
    {
      ...ruled('engine.knock', 'watch'),
      essential: true,
    },
  ),
  measure('knock.mean', 'mean knock retard', KNOCK, { kind: 'mean' }, { worse: 'high', primary: 1 }),
  measure(
    'mixture.lean',
    'mixture leaner than its target',
    MIXTURE_ERROR,
    { kind: 'highest', seconds: 0.5 },
    {
      ...ruled('fuel.lambda-load', 'repair'),
      essential: true,
    },
  ),
  measure('mixture.error', 'mean mixture error', MIXTURE_ERROR, { kind: 'mean' }, { primary: 2 }),
  measure(
    'mixture.rich',
    'richest mixture',
    LAMBDA,
    { kind: 'lowest', seconds: 0.5 },
    {
      limit: { rule: 'fuel.lambda-load', name: 'rich-watch' },
      worse: 'low',
    },
  ),
  boost(
    'boost.overshoot',
    'boost overshoot',
    'kPa',
    `charge pressure over its target, held for ${OVERSHOOT_HELD} s`,
    ({ overshoot }) => overshoot,
    { ...ruled('air.boost-control', 'overshoot-watch'), essential: true },
  ),
  boost(
    'boost.over',
    'boost settled above its target',
    'kPa',
    `settled charge pressure over its target, held for ${STEADY_HELD} s`,
    ({ over }) => over,
    ruled('air.boost-control', 'steady-watch'),
  ),
  boost(
    'boost.short',
    'boost settled below its target',
    'kPa',
    `settled charge pressure under its target, held for ${STEADY_HELD} s, where nothing limits on purpose`,
    ({ short }) => short,
    ruled('air.boost-control', 'steady-watch'),
  ),
  boost(
    'boost.swing',
    'boost swinging about its target',
    'kPa',
    'amplitude at 0.5 to 3 Hz over three cycles; 0 = none seen in three seconds and more',
    ({ swing, piece }) => ({
      value: Number.isNaN(swing.amplitude) && piece.to - piece.from >= 3 ? 0 : swing.amplitude,
      at: swing.from,
    }),
    ruled('air.boost-control', 'swing-watch'),
  ),
  boost(
    'boost.spool',
    'time to boost',
    's',
    'seconds from full pedal to 10 kPa under the target, where boost had to be built up',
    ({ spoolTime }) => ({ value: spoolTime }),
    { worse: 'high' },
  ),
  boost(
    'boost.settling',
    'time until boost settles',
    's',
    'seconds from there until the error stays within 10 kPa for a second',
    ({ settling }) => ({ value: settling }),
    { worse: 'high' },
  ),
  measure('boost.error', 'mean boost error', BOOST_ERROR, { kind: 'mean' }, { primary: 3 }),
  measure(
    'rail.short',
    'rail pressure missing',
    RAIL_SHORTAGE,
    { kind: 'highest', seconds: 0.5 },
    {
      ...ruled('fuel.rail-pressure', 'below-watch'),
    },
  ),
  measure(
    'feed.short',
    'feed pressure missing',
    FEED_SHORTAGE,
    { kind: 'highest', seconds: 0.5 },
    {
      ...ruled('fuel.rail-pressure', 'below-watch'),
    },
  ),
  measure(
    'injector.duty',
    'injector duty',
    INJECTOR_DUTY,
    { kind: 'highest', seconds: 0.3 },
    {
      ...ruled('fuel.injector-duty', 'duty-watch'),
    },
  ),
  measure(
    'injector.angle',
    'injection angle',
    INJECTION_ANGLE,
    { kind: 'highest', seconds: 0.3 },
    {
      ...ruled('fuel.injector-duty', 'angle-watch'),
    },
  ),
  measure(
    'exhaust.before',
    'exhaust gas before the turbine',
    exhaust('before-turbine'),
    { kind: 'highest', seconds: 2 },
    {
      limit: { rule: 'exhaust.temperature', name: 'watch' },
      worse: 'high',
    },
  ),
  measure(
    'exhaust.after',
    'exhaust gas after the turbine',
    exhaust('after-turbine'),
    { kind: 'highest', seconds: 2 },
    {
      limit: { rule: 'exhaust.temperature', name: 'watch' },
      worse: 'high',
    },
  ),
  measure(
    'exhaust.unplaced',
    'exhaust gas (place not told)',
    exhaust('unknown'),
    { kind: 'highest', seconds: 2 },
    { worse: 'high' },
  ),
  measure(
    'charge.rise',
    'rise of the charge temperature',
    CHARGE_TEMPERATURE,
    { kind: 'rise' },
    {
      ...ruled('air.charge-cooling', 'rise-watch'),
      primary: 5,
    },
    'K',
  ),
  measure('ignition.error', 'mean ignition error', IGNITION_ERROR, { kind: 'mean' }),
  measure(
    'ignition.latest',
    'ignition latest against what was asked for',
    IGNITION_ERROR,
    { kind: 'lowest', seconds: 0.2 },
    { worse: 'low' },
  ),
  measure('power.mean', 'mean power', POWER, { kind: 'mean' }, { primary: 4 }),
  measure('power.peak', 'highest power', POWER, { kind: 'highest', seconds: 0.4 }),
  measure('torque.peak', 'highest torque', TORQUE, { kind: 'highest', seconds: 0.4 }),
  measure(
    'torque.low-speed',
    'mean effective pressure below 3000 rpm',
    LOW_PRESSURE,
    { kind: 'highest', seconds: 1 },
    {
      ...ruled('engine.torque-load', 'unrated'),
    },
  ),
  measure(
    'torque.over-told',
    'reported torque above road load',
    TORQUE_AGAINST_ROAD,
    { kind: 'median' },
    {
      own: { value: 10, source: `${CP}: the gearbox sets its clutches by the reported torque` },
      worse: 'high',
    },
  ),
  measure(
    'torque.under-told',
    'reported torque below road load',
    TORQUE_AGAINST_ROAD,
    { kind: 'median' },
    {
      own: { value: -10, source: `${CP}: the gearbox sets its clutches by the reported torque` },
      worse: 'low',
      compared: false,
    },
  ),
  measure(
    'torque.shortfall',
    'torque missing to the demand',
    TORQUE_SHORTFALL,
    { kind: 'highest', seconds: 1 },
    {
      ...ruled('engine.protection', 'deficit'),
    },
  ),
  measure(
    'throttle.closure',
    'throttle closed by the control unit',
    THROTTLE_DEFICIT,
    { kind: 'highest', seconds: 0.3 },
    {
      ...ruled('air.throttle-closure', 'watch'),
    },
  ),
  {
    id: 'torque.intervention',
    unit: 's',
    title: 'torque taken by traction control or a limiter',
    about:
      'seconds of the whole press of the pedal in which traction or stability control, or a torque limiter, took torque',
    worse: 'high',
    quantities: [],
    read: ({ taken }) =>
      isRefusal(taken) ? taken : { value: taken, u: 0, at: Number.NaN, speed: Number.NaN, member: '', clipped: false },
  },
  {
    id: 'protection.share',
    unit: '%',
    title: 'component protection by mixture',
    about: `share of the pull in which the control unit asks for more than the map. ${ENRICHED.about}; without a targets file: the target more than ${ASKED_LOWER} below that of the second second, which a map that falls with engine speed does as well`,
    worse: 'high',
    quantities: [ENRICHED, TARGET],
    read(pull, range) {
      const against = readPull(pull, ENRICHED.id, { kind: 'mean' }, range);
      if (isRefusal(against)) return readPull(pull, TARGET.id, { kind: 'share-below-start', by: ASKED_LOWER }, range);
      return { ...against, value: 100 * against.value };
    },
  },
  measure(
    'compressor.ratio',
    'highest compressor ratio',
    COMPRESSOR_RATIO,
    { kind: 'highest', seconds: 0.5 },
    { worse: 'high' },
  ),
  measure(
    'compressor.outlet',
    'hottest air behind the compressor',
    COMPRESSOR_OUTLET,
    { kind: 'highest', seconds: 0.5 },
    { worse: 'high' },
  ),
  measure(
    'oil.highest',
    'hottest engine oil',
    OIL,
    { kind: 'highest', seconds: 0 },
    { ...ruled('engine.oil-temperature', 'watch'), compared: false },
  ),
  measure(
    'coolant.highest',
    'hottest coolant',
    COOLANT,
    { kind: 'highest', seconds: 0 },
    { ...ruled('engine.cooling', 'watch'), compared: false },
  ),
  measure(
    'fluid.highest',
    'hottest transmission fluid',
    FLUID,
    { kind: 'highest', seconds: 0 },
    { ...ruled('transmission.over-temperature', 'watch'), compared: false },
  ),
]);

/** Every quantity that a pull is cut from: what the measures are made of. */
export const QUANTITIES: readonly Quantity[] = Object.freeze([
  ...new Map(MEASURES.flatMap(({ quantities }) => quantities.map((each) => [each.id, each] as const))).values(),
]);
