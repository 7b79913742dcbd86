import { AMBIENT } from '../../derived/ambient.js';
import { ENGINE_TORQUE } from '../../derived/engine-torque.js';
import { exceeds } from '../../derived/exceeds.js';
import { PULL_POWER, type PullPower } from '../../derived/pull-power.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import { mean } from '../../math/mean.js';
import { standardDeviation } from '../../math/standard-deviation.js';
import { iso1585 } from '../../physics/power-correction.js';
import type { Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type Observed } from '../rule.js';
import { clockTime, counted, figure } from '../wording.js';

/** Pulls that it takes, and the lowest gear in which they count: below, tyres slip and the turning masses weigh too much. */
const PULLS_NEEDED = 3;
const LOWEST_GEAR = 3;
/** Half-width (share) below which the interval never goes without a weighed car on a known slope. Common practice. */
const FLOOR = 0.08;
const NORMAL_95 = 1.96;
const CONDITION = `>= ${PULLS_NEEDED} full-load pulls in gear >= ${LOWEST_GEAR} that pass the peak of power, on a closed course`;

interface PowerObservation {
  readonly pulls: readonly PullPower[];
  /** Full-load stretches that were too low a gear or ended before the peak. */
  readonly left: number;
  readonly u: number;
  /** Shares by which thin or hot air may have lowered the power: factor of ISO 1585, not applied, only allowed for. */
  readonly air: number;
  /** Air mass or road load stand behind it: evidence that no torque model of a control unit colours. */
  readonly independent: boolean;
  readonly channels: readonly Channel[];
  readonly notes: readonly string[];
}

export const power = defineRule({
  id: 'engine.power',
  system: 'engine',
  question: 'Does it make the power that is claimed?',
  why: 'A claimed power that is not there means a wrong map, a tired engine or turbocharger, or a wrong claim; each changes the price.',
  weight: 1,
  needs: {
    channels: ['engineSpeed'],
    optional: [
      'vehicleSpeed',
      'wheelSpeed',
      'engineTorque',
      'airMassFlow',
      'manifoldPressure',
      'pedalPosition',
      'altitude',
      'barometricPressure',
    ],
    derived: [PULL_POWER, ENGINE_TORQUE, AMBIENT],
    conditions: [CONDITION, 'vehicle profile with claims.power, body.mass and engine.displacement'],
  },
  limits: [
    {
      name: 'watch',
      value: 0.9,
      unit: '1',
      comparison: '<',
      source: 'common practice, no source',
      about: 'upper bound of the measured power at the crank over the claim',
    },
  ],
  method:
    'Power of each full-load stretch in one gear is the reconciled torque (air mass, road load in the locked gear, control unit) times speed, highest over 0.4 s. Stretches in gear 3 and above that pass the peak count; their mean carries an interval of at least 8 % for mass, slope and driveline. No correction to standard air is applied, because boost control makes up for the air; what ISO 1585 would add on a hot or high day is given to the car as doubt. The finding takes the upper bound.',
  decoys: [
    'gradient and wind: part of the interval, smaller where altitude is recorded; repeat in both directions',
    'shifts and wheelspin: stretches within one locked gear only, from gear 3',
    'pulls that end before the peak of power: left out',
    'hot or thin air: the factor of the standard widens the interval, it never raises the value',
    'a torque channel that was not rescaled: outvoted by air mass and road load',
  ],
  cautions: [
    'Full load only on a closed course or a dynamometer, and within the law; never an all-wheel-drive car on single-axle rollers.',
  ],
  proves:
    'On a closed, level course: three pulls in third or fourth gear from 2000 rpm to the limit, in both directions, with engine speed, vehicle speed, air mass or torque, pedal and manifold pressure at 10 Hz; mass, drag area and displacement in the profile.',
  observe(view): PowerObservation | ReturnType<typeof refuse> {
    const powers = view.derive(PULL_POWER);
    if (isRefusal(powers)) return refuse(powers.reason, powers.missing);
    const torque = view.derive(ENGINE_TORQUE);
    const ambient = view.derive(AMBIENT);
    const counted = powers.pulls.filter(({ gear, topped }) => topped && (Number.isNaN(gear) || gear >= LOWEST_GEAR));
    const factor = isRefusal(ambient) ? 1 : iso1585(ambient.pressure, ambient.temperature + 10).factor;
    const apart = powers.agreements.filter(({ differs }) => differs);
    return {
      pulls: counted,
      left: powers.pulls.length - counted.length,
      u: powers.u,
      air: Math.max(0, factor - 1),
      independent: !isRefusal(torque) && (torque.estimates.air !== undefined || torque.estimates.road !== undefined),
      channels: [view.channel('engineSpeed'), view.optional('engineTorque'), view.optional('airMassFlow')].filter(
        (each) => each !== undefined,
      ),
      notes: [
        ...powers.notes,
        ...apart.map(
          ({ first, second, ratio }) =>
            `Torque by ${first} over torque by ${second} is ${figure(ratio, 2)}: the result is that much less sure.`,
        ),
      ],
    };
  },
  judge,
});

function judge(observed: readonly Observed<PowerObservation>[], context: Context): Judgement {
  const claim = context.vehicle.claims.power;
  const limit = context.limits().watch!;
  const all = observed.flatMap(({ input, observation }) => observation.pulls.map((pull) => ({ input, pull })));
  const left = observed.reduce((total, { observation }) => total + observation.left, 0);
  const values = all.map(({ pull }) => pull.power);
  const wheels = all.map(({ pull }) => pull.wheel).filter((each) => !Number.isNaN(each));
  const value = mean(values);
  const u = Math.max(...observed.map(({ observation }) => observation.u), 0);
  const scatter = values.length > 1 ? standardDeviation(values) / Math.sqrt(values.length) / value : 0;
  const half = Math.max(FLOOR, NORMAL_95 * Math.hypot(u, scatter));
  const air = Math.max(...observed.map(({ observation }) => observation.air), 0);
  const base = {
    measures: {
      ...(values.length === 0
        ? {}
        : {
            power: { value, unit: 'kW' },
            powerLow: { value: value * (1 - half), unit: 'kW' },
            powerHigh: { value: value * (1 + half), unit: 'kW' },
            torque: { value: Math.max(...all.map(({ pull }) => pull.torque)), unit: 'N.m' },
          }),
      ...(wheels.length === 0 ? {} : { wheelPower: { value: mean(wheels), unit: 'kW' } }),
      ...(claim === undefined ? {} : { claim: { value: claim, unit: 'kW' } }),
      pulls: { value: values.length },
    },
    limits: [limit],
    events: all.map(({ input, pull }) => ({
      input,
      from: pull.from,
      to: pull.to,
      peak: { value: pull.power, unit: 'kW' },
      engineSpeed: { value: pull.at, unit: 'rpm' },
      ...(Number.isNaN(pull.gear) ? {} : { gear: { value: pull.gear } }),
      ...(Number.isNaN(pull.wheel) ? {} : { wheelPower: { value: pull.wheel, unit: 'kW' } }),
    })),
    notes: [
      ...new Set(observed.flatMap(({ observation }) => observation.notes)),
      ...(air > 0.02
        ? [
            `The air was thin or hot: the standard’s factor would be ${figure(1 + air, 2)}; it is allowed for as doubt, not added.`,
          ]
        : []),
    ],
  };
  const first = all[0];
  if (values.length < PULLS_NEEDED || first === undefined) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `${counted(values.length, 'full-load pull')} in gear ${LOWEST_GEAR} or above passed the peak of power${left > 0 ? `, ${left} more did not` : ''}; ${PULLS_NEEDED} are needed.`,
      missing: { channels: [], conditions: [CONDITION] },
    };
  }
  const told = `${figure(value, 0)} kW at the crank (${figure(value * (1 - half), 0)} to ${figure(value * (1 + half), 0)}), mean of ${counted(values.length, 'pull')} from ${clockTime(first.pull.from)}`;
  if (claim === undefined) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `Measured: ${told}. What it should make is not known.`,
      missing: { channels: [], conditions: ['vehicle profile with claims.power'] },
    };
  }
  if (!observed.some(({ observation }) => observation.independent)) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `The control unit’s own torque gives ${told}; neither air mass nor road load could confirm it.`,
      missing: { channels: ['airMassFlow'], conditions: ['vehicle profile with body.mass and engine.displacement'] },
    };
  }
  const share = value / claim;
  // The finding takes the upper bound, so that its one-sided 95 % bound is the upper end of the interval.
  const upper = share * (1 + half) * (1 + air);
  const below = exceeds(upper, 0, limit.value, limit.comparison) === 'beyond';
  const support = {
    margin: Math.abs(upper - limit.value),
    uncertainty: (share * half) / NORMAL_95,
    samples: values.length,
  };
  const channels = observed[0]!.observation.channels;
  if (below) {
    return {
      ...base,
      outcome: 'finding',
      severity: 'watch',
      confidence: confidenceOf({ ...support, channels }),
      summary: `Makes ${told}; ${figure(claim, 0)} kW are claimed, and even the upper end is below ${figure(100 * limit.value, 0)} % of that.`,
      causes: [
        'the claim is for another map, fuel or hardware than is in the car',
        'knock control, hot charge air or a protection takes torque away',
        'boost is missed: charge leak, wastegate, worn turbocharger',
        'fuel supply at its end',
        'worn engine: compression, valve timing',
      ],
      advice: [
        'Ask for the measurement behind the claim: which fuel, which rollers, which correction.',
        'Look at knock, boost against target, charge temperature and lambda in the same pulls: the report says what was seen.',
        'Repeat in both directions on a level road, with the fuel the map is made for.',
        'Then compression and leak-down test, and a smoke test of the charge pipes.',
      ],
    };
  }
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({ ...support, channels }),
    summary: `Makes ${told}; ${figure(claim, 0)} kW are claimed${share * (1 - half) > 1.1 ? ': it makes more than claimed, ask for the map' : share < limit.value ? ', near the limit' : ''}.`,
  };
}
