import { ACCELERATION } from '../../derived/acceleration.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import { SPEED } from '../../derived/speed.js';
import { STRAIGHT } from '../../derived/straight.js';
import type { Certainty } from '../../recording/recording.js';
import type { Vehicle } from '../../vehicle/vehicle.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, limitOf, rankOf } from '../ladder.js';
import {
  type Context,
  defineRule,
  type Judgement,
  type Limit,
  type LimitDefinition,
  type Observed,
  type RuleEvent,
  type Severity,
} from '../rule.js';
import { figure } from '../wording.js';
import { type OddWheel, oddWheel } from './tyre-circumference-odd-wheel.js';
import { type Compared, type Ratio, ratioOf } from './tyre-circumference-reading.js';

const CP = 'common practice, no source';
const limit = (name: string, value: number, unit: string, comparison: '>' | '>=', about: string): LimitDefinition => ({
  name,
  value,
  unit,
  comparison,
  source: CP,
  about,
});
/** km/h between which tyres are compared: below, quanta and bends; above, growth of the tyres with speed. */
const SPEEDS = [50, 100] as const;

const PAIRS = [
  ['axle', 'front axle', 'rear axle'],
  ['front', 'front left wheel', 'front right wheel'],
  ['rear', 'rear left wheel', 'rear right wheel'],
] as const;
type Pair = (typeof PAIRS)[number][0];

interface Observation {
  readonly ratios: Readonly<Record<Pair, Compared>>;
  readonly kilometres: number;
  readonly certain: readonly { readonly certainty: Certainty }[];
}

export const tyreCircumference = defineRule({
  id: 'driveline.tyre-circumference',
  system: 'driveline',
  question: 'Do the axles, and the wheels of each axle, roll the same?',
  why: 'On a car that drives all wheels, tyres of different circumference work the coupling and differentials all the time and ruin them; on any car they confuse the brakes.',
  weight: 2,
  slow: true,
  needs: {
    channels: ['wheelSpeed'],
    optional: ['yawRate', 'steeringAngle', 'vehicleSpeed'],
    derived: [SPEED, STRAIGHT, ACCELERATION],
    conditions: ['3 km straight at 50 to 100 km/h'],
  },
  limits: [
    limit('axle-watch', 0.7, '%', '>', 'front against rear axle, without torque'),
    limit('axle-repair', 1.5, '%', '>', 'front against rear axle, without torque'),
    limit('side-watch', 0.5, '%', '>', 'left against right wheel of one axle'),
    limit('distance', 3, 'km', '>=', 'straight distance that it takes'),
  ],
  method:
    'Wheel speeds are compared straight ahead between 50 and 100 km/h in stretches of a hundred metres. The ratio of the axles is taken to zero driving force (acceleration, rolling and air resistance), where no axle creeps under torque; the ratio of the sides to zero curvature. ' +
    'Wheel speeds are worked out by the control unit with the sizes it knows, so tyres that fit the car read the same whatever their size; what differs is wear, pressure or a wrong size.',
  decoys: [
    'tyre pressures: half a bar changes the circumference by about 0.2 %, below the limits; check them first',
    'a seasonal set of another size on both axles changes all wheels alike and leaves the ratios',
    'one new pair: the difference is real and is said as worn against new',
    'one wheel unlike the other three: it is named, and where no wear explains it the axles are left out of account',
    'creep of the driven axle: the ratio is taken to zero acceleration',
    'bends: only straight driving counts, left and right bends cancel',
  ],
  cautions: ['All-wheel drive with unequal tyres: do not drive far, nor on a motorway, until they are replaced.'],
  proves:
    'Three kilometres straight ahead at 50 to 100 km/h with the four wheel speeds and the yaw rate or steering angle recorded.',
  observe(view) {
    const straight = view.derive(STRAIGHT);
    if (isRefusal(straight)) return straight;
    const speed = view.derive(SPEED);
    if (isRefusal(speed)) return speed;
    const wheels = ['frontLeft', 'frontRight', 'rearLeft', 'rearRight'].map((w) =>
      view.optional(`wheelSpeed.${w}` as 'wheelSpeed'),
    );
    const [fl, fr, rl, rr] = wheels;
    if (!fl || !fr || !rl || !rr)
      return refuse('the speeds of all four wheels are not recorded', { channels: ['wheelSpeed'] });
    const usable = straight.mask.slice();
    for (let i = 0; i < usable.length; i++)
      if (!(speed.values[i]! >= SPEEDS[0] && speed.values[i]! <= SPEEDS[1])) usable[i] = 0;
    const acceleration = view.derive(ACCELERATION);
    const torque = isRefusal(acceleration) ? undefined : driven(acceleration.values, speed.values, view.vehicle.body);
    const compare = (a: Float64Array, b: Float64Array, load?: Float64Array) =>
      ratioOf(a, b, load, speed.values, view.time, usable);
    // Wheel ratios as evidence of straightness cannot correct themselves.
    const bend = straight.source === 'wheelSpeed' ? undefined : straight.turn;
    const axle = compare(mean(fl.values, fr.values), mean(rl.values, rr.values), torque);
    return {
      ratios: { axle, front: compare(fl.values, fr.values, bend), rear: compare(rl.values, rr.values, bend) },
      kilometres: axle.metres / 1000,
      certain: [fl, fr, rl, rr],
    };
  },
  judge,
});

function mean(a: Float64Array, b: Float64Array): Float64Array {
  const out = new Float64Array(a.length);
  for (let i = 0; i < out.length; i++) out[i] = (a[i]! + b[i]!) / 2;
  return out;
}

/**
 * What the tyres drive the car with, as an acceleration (m/s2): its own plus rolling and air resistance. Where the
 * profile is silent: rolling 0.012, drag area over mass 0.0004 m2/kg (common practice, no source).
 */
function driven(acceleration: Float64Array, speed: Float64Array, body: Vehicle['body']): Float64Array {
  const rolling = 9.80665 * (body.rolling ?? 0.012);
  const air = 0.6 * (body.dragArea !== undefined && body.mass !== undefined ? body.dragArea / body.mass : 0.0004);
  return acceleration.map((a, i) => a + rolling + air * (speed[i]! / 3.6) ** 2);
}

/** Drives are pooled by their precision. */
function pooled(ratios: readonly Ratio[]): Ratio {
  let weight = 0;
  let sum = 0;
  let samples = 0;
  for (const { value, u, samples: n } of ratios) {
    if (Number.isNaN(value) || !(u > 0)) continue;
    weight += 1 / u ** 2;
    sum += value / u ** 2;
    samples += n;
  }
  return weight > 0
    ? { value: sum / weight, u: 1 / Math.sqrt(weight), samples }
    : { value: Number.NaN, u: Number.NaN, samples: 0 };
}

function judge(observed: readonly Observed<Observation>[], context: Context): Judgement {
  const limits = context.limits();
  const kilometres = observed.reduce((sum, { observation }) => sum + observation.kilometres, 0);
  const channels = observed.flatMap(({ observation }) => observation.certain);
  const found = PAIRS.map(([pair, one, other]) => {
    const ratio = pooled(observed.map(({ observation }) => observation.ratios[pair]));
    const what = pair === 'axle' ? 'axle' : 'side';
    return { pair, one, other, ratio, what, severity: levelOf(Math.abs(ratio.value), ratio.u, limits, what) };
  });
  const ratioOfPair = (pair: Pair): Ratio => found.find((each) => each.pair === pair)!.ratio;
  const odd = oddWheel(ratioOfPair('axle'), ratioOfPair('front'), ratioOfPair('rear'));
  const measured = found.filter(({ ratio }) => !Number.isNaN(ratio.value));
  const base = {
    measures: {
      ...Object.fromEntries(measured.map(({ pair, ratio }) => [pair, { value: ratio.value, unit: '%' }])),
      distance: { value: kilometres, unit: 'km' },
    },
    limits: Object.values(limits),
  };
  if (kilometres < limits.distance!.value || measured.length === 0) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `The drive holds ${figure(kilometres)} km straight ahead between ${SPEEDS[0]} and ${SPEEDS[1]} km/h, ${figure(limits.distance!.value)} km are needed to compare the tyres.`,
      missing: {
        channels: [],
        conditions: [`>= ${figure(limits.distance!.value)} km straight at ${SPEEDS[0]} to ${SPEEDS[1]} km/h`],
      },
    };
  }
  // What one wheel alone reads is no matter of the axles where no tyre of the same size can roll like that.
  const beyondWear = odd !== undefined && Math.abs(odd.value) > WEAR;
  const counting = beyondWear ? measured.filter(({ pair }) => pair !== 'axle') : measured;
  const worst = counting.reduce((a, b) => {
    const more = rankOf(b.severity) - rankOf(a.severity);
    return more > 0 || (more === 0 && Math.abs(b.ratio.value) > Math.abs(a.ratio.value)) ? b : a;
  });
  const { one, other } = worst;
  const faster = worst.ratio.value > 0 ? one : other;
  const slower = worst.ratio.value > 0 ? other : one;
  const by = `${figure(Math.abs(worst.ratio.value), 2)} % ± ${figure(2 * worst.ratio.u, 2)}`;
  const told = `The ${faster} rolls ${by} faster than the ${slower} over ${figure(kilometres)} km straight ahead without driving force`;
  if (worst.severity === undefined) {
    const nearest = limitOf(limits, 'watch', worst.what);
    return {
      ...base,
      outcome: 'clear',
      confidence: confidenceOf({
        margin: nearest.value - Math.abs(worst.ratio.value),
        uncertainty: worst.ratio.u,
        samples: worst.ratio.samples,
        channels,
      }),
      summary: `${told}, ${Math.abs(worst.ratio.value) > nearest.value ? `near the limit of ${figure(nearest.value)} %, not surely beyond it` : `within ${figure(nearest.value)} %`}.`,
    };
  }
  const exceeded = limitOf(limits, worst.severity as Severity, worst.what);
  return {
    ...base,
    outcome: 'finding',
    severity: worst.severity,
    confidence: confidenceOf({
      margin: Math.abs(worst.ratio.value) - exceeded.value,
      uncertainty: worst.ratio.u,
      samples: worst.ratio.samples,
      channels,
    }),
    events: (beyondWear ? counting : found).flatMap(({ pair, one, other, what, severity }) =>
      severity === undefined
        ? []
        : eventsOf(observed, pair, `${one} against ${other}`, severity, limitOf(limits, severity, what)),
    ),
    summary:
      odd === undefined
        ? `${told}, limit ${figure(exceeded.value)} %: the ${faster} has the smaller tyre${worst.pair === 'axle' ? 's' : ''}.`
        : oddTold(
            odd,
            kilometres,
            `${worst.pair === 'axle' ? `with it the ${faster} ${by} faster than the ${slower}, ` : ''}limit ${figure(exceeded.value)} %`,
            beyondWear,
          ),
    causes: [
      'tyres worn unevenly, or one pair new',
      'wrong pressure',
      'tyres of different make or size',
      'a wheel that drags or a bearing with play',
    ],
    advice: [
      'Set all pressures cold and measure again.',
      'Read sizes and measure tread depths and circumferences of all four tyres.',
      'On all-wheel drive replace tyres in sets; ask for the age of the coupling fluid.',
    ],
  };
}

/**
 * % of circumference that no two tyres of one size differ by. Derived: 8 mm of tread worn to 1.6 mm of a diameter of
 * 650 mm are 2 %, half a bar 0.2 %.
 */
const WEAR = 3;

function oddTold({ wheel, value, u }: OddWheel, kilometres: number, told: string, beyondWear: boolean): string {
  const way = value > 0 ? 'faster' : 'slower';
  const what = beyondWear
    ? `no wear does that (about 2 % from new to worn), so it is the signal of that wheel or a tyre of another size; the axles cannot be compared until it is mended`
    : `it has the ${value > 0 ? 'smaller' : 'larger'} tyre`;
  return `One wheel stands out: the ${wheel} rolls ${figure(Math.abs(value), 2)} % ± ${figure(2 * u, 2)} ${way} than the other three over ${figure(kilometres)} km straight ahead (${told}): ${what}.`;
}

/** The stretch of each drive: what it showed, between what eight of ten stretches of 100 m lay, and the limit. */
function eventsOf(
  observed: readonly Observed<Observation>[],
  pair: Pair,
  what: string,
  severity: Severity,
  limit: Limit,
): RuleEvent[] {
  return observed.flatMap(({ input, observation }) => {
    const { value, low, high, from, to, metres } = observation.ratios[pair];
    if (Number.isNaN(value)) return [];
    return [
      {
        input,
        from,
        to,
        severity,
        what,
        peak: { value, unit: '%' },
        mostlyFrom: { value: low, unit: '%' },
        mostlyTo: { value: high, unit: '%' },
        limit: { value: limit.value, unit: '%' },
        distance: { value: metres / 1000, unit: 'km' },
      },
    ];
  });
}
