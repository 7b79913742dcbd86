import { resampled } from '../../derived/aligned.js';
import { exceeds } from '../../derived/exceeds.js';
import { maskWhere, segmentsOf } from '../../derived/intervals.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import { freshRate, heldValues } from '../../derived/refresh.js';
import { SPEED } from '../../derived/speed.js';
import { bandAmplitude } from '../../math/band-amplitude.js';
import { median } from '../../math/quantile.js';
import type { Certainty, Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { clockTime, figure, nearWhenBeyond } from '../wording.js';

const CP = 'common practice, no source';
const limit = (name: string, value: number, unit: string, about: string): LimitDefinition => ({
  name,
  value,
  unit,
  comparison: '>',
  source: CP,
  about,
});
const BAND = [2, 12] as const; // Hz
const SPEEDS = [2, 15] as const; // km/h
const RATE = 30;
/** Shares of the largest steering angle seen: full lock, and what counts as half; that angle must be at least this (deg). */
const FULL = 0.8;
const HALF = [0.3, 0.65] as const;
const LOCK = 300;
const SHORTEST = 2; // s
const LONGEST = 4; // s, of a piece that is measured at once
/** Below this (degC) summer tyres skip on full lock without anything being wrong. */
const COLD = 10;
/** Circumference of a car's tyre, m, for the lines that follow the rotation of the wheel. */
const CIRCUMFERENCES = [1.85, 1.95, 2.05, 2.15] as const;

interface Piece {
  readonly from: number;
  readonly to: number;
  readonly side: 'left' | 'right' | 'half';
  readonly front: number;
  readonly rear: number;
}
interface Observation {
  readonly pieces: readonly Piece[];
  readonly ambient: number;
  readonly quantum: number;
  readonly certain: readonly { readonly certainty: Certainty }[];
}

export const lowSpeedHop = defineRule({
  id: 'driveline.low-speed-hop',
  system: 'driveline',
  question: 'Does the front axle hop at full lock?',
  why: 'A coupling that drags or a differential that binds drags the front tyres over the road in every tight turn, and breaks joints and coupling.',
  weight: 2,
  needs: {
    channels: ['wheelSpeed', 'steeringAngle'],
    optional: ['ambientTemperature'],
    derived: [SPEED],
    conditions: ['slow full-lock circles to both sides, and some at half lock'],
  },
  limits: [
    limit('repair', 0.5, 'km/h', 'amplitude of the front wheel speeds at 2 to 12 Hz at full lock, both directions'),
    limit('ratio', 1, '1', 'and over that of the rear wheels'),
  ],
  method:
    'At 2 to 15 km/h with the steering at 80 % or more of the largest angle seen, wheel speeds are measured at 2 to 12 Hz, less the lines that follow the rotation of the wheel. Front hop counts when it is beyond the limit to both sides, larger than at the rear, and at least halved at half lock.',
  decoys: [
    'cold summer tyres skip below 10 °C of ambient: left open, to be repeated warm',
    'tone-ring faults: lines at multiples of the wheel rotation are taken out, and they stay at half lock',
    'the floor of the sensors at 2 to 3 km/h: slower speeds do not count',
    'quantised speed: its step is part of the uncertainty',
    'rear hop alone: normal with a locking rear differential, not judged',
  ],
  cautions: ['Large flat area, no faster than 10 km/h, and do not hold the steering on its stop.'],
  proves:
    'Ten seconds of full lock to each side and ten at half lock, at walking pace and above 10 °C, with the four wheel speeds and the steering angle at 30 Hz or more.',
  observe(view) {
    const [fl, fr, rl, rr] = ['frontLeft', 'frontRight', 'rearLeft', 'rearRight'].map((w) =>
      view.optional(`wheelSpeed.${w}` as 'wheelSpeed'),
    );
    if (!fl || !fr || !rl || !rr)
      return refuse('the speeds of all four wheels are not recorded', { channels: ['wheelSpeed'] });
    const wheels = [fl, fr, rl, rr];
    const hz = Math.min(...wheels.map((channel) => freshRate(channel).hz));
    if (!(hz >= 0.95 * RATE))
      return refuse(`wheel speeds are too slow to show hop of up to ${BAND[1]} Hz`, {
        conditions: [`wheelSpeed at >= ${RATE} Hz`],
      });
    const speed = view.derive(SPEED);
    if (isRefusal(speed)) return speed;
    const steering = heldValues(view.channel('steeringAngle').values, view.time);
    let lock = 0;
    for (let i = 0; i < steering.length; i++) if (Math.abs(steering[i]!) > lock) lock = Math.abs(steering[i]!);
    const full = refuse('the steering never came near its lock', {
      conditions: ['slow circles at full lock to both sides'],
    });
    if (lock < LOCK) return full;
    const interval = 1 / Math.min(60, hz);
    const pieces: Piece[] = [];
    const sides = {
      left: (x: number) => x >= FULL * lock,
      right: (x: number) => -x >= FULL * lock,
      half: (x: number) => Math.abs(x) >= HALF[0] * lock && Math.abs(x) <= HALF[1] * lock,
    };
    for (const [side, holds] of Object.entries(sides) as [Piece['side'], (x: number) => boolean][]) {
      const mask = maskWhere(
        steering.length,
        (i) => holds(steering[i]!) && speed.values[i]! >= SPEEDS[0] && speed.values[i]! <= SPEEDS[1],
      );
      for (const { from, to } of segmentsOf(mask, view.time, { minDuration: SHORTEST, maxStep: 0.5, maxGap: 0.1 })) {
        const count = Math.max(1, Math.floor((to - from) / LONGEST));
        for (let k = 0; k < count; k++) {
          const begin = from + ((to - from) * k) / count;
          const end = from + ((to - from) * (k + 1)) / count;
          const at = Float64Array.from(
            { length: Math.floor((end - begin) / interval) },
            (_v, i) => begin + i * interval,
          );
          const amplitude = (a: Channel, b: Channel) =>
            Math.max(hopOf(a.values, view.time, at, interval), hopOf(b.values, view.time, at, interval));
          pieces.push({ from: begin, to: end, side, front: amplitude(fl, fr), rear: amplitude(rl, rr) });
        }
      }
    }
    if (!pieces.some((piece) => piece.side !== 'half')) return full;
    const ambient = view.optional('ambientTemperature');
    return {
      pieces,
      ambient: ambient === undefined ? Number.NaN : median(ambient.values),
      quantum: Math.max(...wheels.map((w) => w.quality.quantum)),
      certain: wheels,
    };
  },
  judge,
});

/** km/h of the band without the first three wheel orders; of the circumferences tried the one that explains most. */
function hopOf(values: Float64Array, time: Float64Array, at: Float64Array, interval: number): number {
  const v = resampled(values, time, at, 4);
  let least = Number.NaN;
  for (const circumference of CIRCUMFERENCES) {
    const turn = new Float64Array(v.length);
    for (let i = 1; i < v.length; i++) turn[i] = turn[i - 1]! + (2 * Math.PI * v[i]! * interval) / 3.6 / circumference;
    const found = bandAmplitude(
      v,
      interval,
      BAND[0],
      BAND[1],
      [1, 2, 3].map((order) => turn.map((x) => order * x)),
    );
    if (!(least <= found)) least = found;
  }
  return least;
}

function judge(observed: readonly Observed<Observation>[], context: Context): Judgement {
  const limits = context.limits();
  const { value } = limits.repair!;
  const all = observed.flatMap(({ input, observation }) => observation.pieces.map((piece) => ({ input, piece })));
  const of = (side: Piece['side'], axle: 'front' | 'rear') =>
    median(all.filter(({ piece }) => piece.side === side).map(({ piece }) => piece[axle]));
  const left = of('left', 'front');
  const right = of('right', 'front');
  const half = of('half', 'front');
  const rear = Math.max(of('left', 'rear'), of('right', 'rear'));
  const channels = observed.flatMap(({ observation }) => observation.certain);
  const ambient = median(observed.map(({ observation }) => observation.ambient));
  const quantum = Math.max(...observed.map(({ observation }) => observation.quantum));
  const front = Math.min(left, right);
  const u = Math.hypot(0.04, quantum / Math.sqrt(12), 0.08 * (Number.isNaN(front) ? 0 : front));
  const measures = {
    ...(Number.isNaN(front) ? {} : { front: { value: front, unit: 'km/h' }, rear: { value: rear, unit: 'km/h' } }),
    ...(Number.isNaN(half) ? {} : { half: { value: half, unit: 'km/h' } }),
  };
  const base = { measures, limits: Object.values(limits) };
  if (Number.isNaN(front)) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `Full lock was seen to the ${Number.isNaN(left) ? 'right' : 'left'} only; both directions are needed.`,
      missing: { channels: [], conditions: ['slow circles at full lock to both sides'] },
    };
  }
  const hops = exceeds(front, u, value, '>') === 'beyond' && front > limits.ratio!.value * rear;
  const spared = Number.isNaN(half) || half < 0.5 * front;
  if (!hops || !spared) {
    return {
      ...base,
      outcome: 'clear',
      confidence: confidenceOf({
        margin: hops ? 1 : Math.abs(value - front),
        uncertainty: u,
        samples: 5 * all.length,
        channels,
        doubts: [hops ? 0.6 : 1],
      }),
      summary: hops
        ? `The front wheels shake by ${figure(front, 2)} km/h, at half lock by ${figure(half, 2)} km/h as well: no hop of full lock, rather a wheel sensor or the road.`
        : `At full lock the front wheels shake by ${figure(front, 2)} km/h (limit ${figure(value, 2)} km/h), the rear by ${figure(rear, 2)} km/h${front > value ? (front > limits.ratio!.value * rear ? nearWhenBeyond(front, value) : ': all wheels shake alike, which is the road') : ''}.`,
    };
  }
  if (ambient < COLD) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `The front wheels hop by ${figure(front, 2)} km/h at full lock, but at ${figure(ambient, 0)} °C cold tyres do that too: repeat it warm.`,
      missing: { channels: [], conditions: [`full lock at an ambient temperature >= ${COLD} °C`] },
    };
  }
  const events = all
    .filter(({ piece }) => piece.side !== 'half' && piece.front > value)
    .map(({ input, piece }) => ({
      input,
      from: piece.from,
      to: piece.to,
      severity: 'repair' as const,
      side: piece.side,
      peak: { value: piece.front, unit: 'km/h' },
      rear: { value: piece.rear, unit: 'km/h' },
      ...(Number.isNaN(half) ? {} : { usualAtHalfLock: { value: half, unit: 'km/h' } }),
      limit: { value, unit: 'km/h' },
    }))
    .sort((a, b) => a.input - b.input || a.from - b.from);
  return {
    ...base,
    outcome: 'finding',
    severity: 'repair',
    confidence: confidenceOf({
      margin: front - value,
      uncertainty: u,
      samples: 5 * all.length,
      channels,
      doubts: [Number.isNaN(half) ? 0.8 : 1, Number.isNaN(ambient) ? 0.85 : 1],
    }),
    events,
    summary: `The front axle hops at full lock to both sides: ${figure(front, 2)} km/h at 2 to 12 Hz (limit ${figure(value, 2)} km/h), the rear ${figure(rear, 2)} km/h${Number.isNaN(half) ? '' : `, ${figure(half, 2)} km/h at half lock`}; first at ${clockTime(events[0]!.from)}.`,
    causes: [
      'coupling to the second axle drags: worn plates, old fluid, pressure that does not fall',
      'differential binds',
      'tyres of unequal circumference',
      'constant-velocity joints worn',
    ],
    advice: [
      'Compare tyre sizes and wear first.',
      'Change the fluid of coupling and differentials and try again.',
      'Listen for joints at full lock.',
    ],
  };
}
