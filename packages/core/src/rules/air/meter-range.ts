import { exceeds } from '../../derived/exceeds.js';
import { FULL_LOAD } from '../../derived/full-load.js';
import { isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { holds } from '../../derived/refresh.js';
import { SAMPLES } from '../../derived/samples.js';
import type { Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { clockTime, counted, figure } from '../wording.js';

const PULLS_NEEDED = 2;
const FRESH = 3;
/** Share by which engine speed x pressure has to rise while the meter stands still. */
const RISES = 0.03;
/** Where the format ends, not the meter: one byte of g/s, and two bytes at 0.01 g/s (SAE J1979 PID 10). g/s. */
const FORMAT_ENDS = [255, 655.35] as const;
const CONDITION = `${PULLS_NEEDED} pulls at full pedal to near the limit, where lawful and safe`;

const limits: readonly LimitDefinition[] = [
  {
    name: 'repair',
    value: 0.3,
    unit: 's',
    comparison: '>',
    source: 'common practice, no source',
    about: `air flow on one and the same maximum in ${PULLS_NEEDED} pulls while engine speed x pressure goes on rising`,
  },
];

/** Air flow standing at its maximum in one pull. */
interface Flat {
  readonly pull: number;
  readonly from: number;
  readonly to: number;
  /** Share by which engine speed x pressure rose meanwhile. */
  readonly rise: number;
  readonly rpm: number;
}

export interface MeterObservation {
  /** g/s, highest reading at full load, and the longest time that each pull stood on it. */
  readonly top: number;
  readonly flats: readonly Flat[];
  readonly pulls: number;
  readonly format: boolean;
  /** s between fresh samples. */
  readonly interval: number;
  readonly channels: readonly Channel[];
  /** Why nothing can be called clear: so slow a log misses what is short. What lasts, it shows. */
  readonly slow: Refusal | undefined;
}

export const meterRange = defineRule({
  id: 'air.meter-range',
  system: 'air',
  question: 'Does the air meter run out of range?',
  why: 'Beyond the end of its meter the control unit knows nothing of the air: the mixture goes lean and load, ignition and torque are wrong.',
  weight: 2,
  needs: {
    channels: ['airMassFlow', 'engineSpeed'],
    optional: ['manifoldPressure', 'boostPressure', 'pedalPosition', 'vehicleSpeed', 'gear', 'wheelSpeed'],
    derived: [SAMPLES, FULL_LOAD],
    conditions: [CONDITION],
  },
  limits,
  method:
    'In full-load stretches: how long the air flow stands on one and the same highest reading while engine speed x pressure rises by three per cent and more. A sound meter never repeats its reading then. The second longest of all pulls counts.',
  decoys: [
    'the end of the format (655.35 g/s of the standard request, 255 g/s of one byte) is not the end of the sensor: told apart, not judged',
    'an engine on constant power: speed x pressure does not rise there',
    'a slow channel that repeats its value: only fresh samples count, and three of them; a log of less than 10 Hz finds what lasts and clears nothing',
    'one pull that stands still by chance: two with the same maximum are asked for',
  ],
  cautions: ['Full-load runs only on a closed course or a dynamometer, and within the law; the passenger watches.'],
  proves:
    'Three pulls at full pedal in third or fourth gear to near the limit, where lawful and safe, with air mass flow, engine speed and manifold or boost pressure at 10 Hz or faster.',
  observe(view): MeterObservation | Refusal {
    const full = view.derive(FULL_LOAD);
    if (isRefusal(full)) return full;
    const samples = view.derive(SAMPLES);
    if (isRefusal(samples)) return samples;
    const meter = view.channel('airMassFlow');
    const fast = holds(meter, limits[0]!.value, FRESH);
    const pressure = [...view.family('boostPressure'), ...view.family('manifoldPressure')].find(
      ({ quality }) => quality.samples > 0 && !quality.constant,
    );
    if (pressure === undefined)
      return refuse('nothing shows what the meter should read, because manifoldPressure is absent', {
        channels: ['manifoldPressure'],
      });
    const { time } = view;
    const flow = samples.held(meter.id)!;
    const speed = samples.held('engineSpeed')!;
    const p = samples.held(pressure.id)!;
    let top = Number.NEGATIVE_INFINITY;
    for (const { start, end } of full.pieces) for (let i = start; i <= end; i++) if (flow[i]! > top) top = flow[i]!;
    const same = top - Math.max(1e-6, 0.5 * meter.quality.quantum);
    const fresh = samples.fresh(meter.id);
    const flats: Flat[] = [];
    let k = 0;
    for (const piece of full.pieces) {
      while (k < fresh.length && fresh[k]! < piece.start) k++;
      let first = -1;
      let last = -1;
      let count = 0;
      for (let j = k; j <= fresh.length; j++) {
        const i = fresh[j] ?? Number.POSITIVE_INFINITY;
        const held = i <= piece.end && flow[i]! >= same && (last < 0 || time[i]! - time[last]! <= samples.maxStep);
        if (held) {
          if (first < 0) {
            first = i;
            count = 0;
          }
          last = i;
          count++;
          continue;
        }
        if (first >= 0 && count >= FRESH) {
          const rise = risen(speed, p, first, last);
          if (rise >= RISES)
            flats.push({ pull: piece.pull, from: time[first]!, to: time[last]!, rise, rpm: speed[first]! });
        }
        first = -1;
        last = -1;
        if (!(i <= piece.end)) break;
      }
    }
    return {
      top,
      flats,
      pulls: full.pulls,
      format: FORMAT_ENDS.some((end) => Math.abs(top - end) <= Math.max(0.02, 0.5 * meter.quality.quantum)),
      interval: 1 / samples.hz(meter.id),
      channels: [meter, pressure],
      slow: isRefusal(fast) ? fast : undefined,
    };
  },
  judge,
});

/** Largest rise of speed x pressure over its value at the first row. */
function risen(speed: Float64Array, pressure: Float64Array, first: number, last: number): number {
  const base = speed[first]! * pressure[first]!;
  let top = 0;
  for (let i = first; i <= last; i++) {
    const rise = (speed[i]! * pressure[i]!) / base - 1;
    if (rise > top) top = rise;
  }
  return top;
}

function judge(observed: readonly Observed<MeterObservation>[], context: Context): Judgement {
  const limit = context.limits().repair!;
  const shown = observed.filter(({ observation }) => !observation.format);
  const top = Math.max(...observed.map(({ observation }) => observation.top));
  const longest = new Map<string, Flat & { input: number; interval: number; top: number }>();
  for (const { input, observation } of shown)
    for (const flat of observation.flats) {
      const key = `${input}/${flat.pull}`;
      const before = longest.get(key);
      if (before === undefined || flat.to - flat.from > before.to - before.from)
        longest.set(key, { input, interval: observation.interval, top: observation.top, ...flat });
    }
  // Drives of one car share the end of its meter: what stands lower than the highest stood still by chance.
  const end = Math.max(...[...longest.values()].map((each) => each.top), Number.NEGATIVE_INFINITY);
  const flats = [...longest.values()]
    .filter((each) => each.top > 0.995 * end)
    .sort((a, b) => b.to - b.from - (a.to - a.from));
  const lead = flats[PULLS_NEEDED - 1];
  const pulls = shown.reduce((total, { observation }) => total + observation.pulls, 0);
  const channels = observed.flatMap(({ observation }) => observation.channels);
  const base = {
    measures: {
      pulls: { value: pulls },
      ...(Number.isFinite(top) ? { highest: { value: top, unit: 'g/s' } } : {}),
      ...(lead === undefined ? {} : { flat: { value: lead.to - lead.from, unit: 's' } }),
    },
    limits: [limit],
  };
  if (lead !== undefined) {
    const seconds = lead.to - lead.from;
    const u = lead.interval / Math.sqrt(6);
    if (exceeds(seconds, u, limit.value, limit.comparison) === 'beyond') {
      return {
        ...base,
        outcome: 'finding',
        severity: 'repair',
        confidence: confidenceOf({
          margin: seconds - limit.value,
          uncertainty: u,
          samples: flats.length * FRESH,
          channels,
        }),
        summary: `The air meter stood on ${figure(end, 1)} g/s in ${counted(flats.length, 'pull')}, for ${figure(seconds)} s and more, while engine speed x pressure rose by ${figure(100 * lead.rise, 0)} % (limit ${limit.value} s), among others from ${clockTime(lead.from)} at ${figure(lead.rpm, 0)} rpm.`,
        events: flats
          .sort((a, b) => a.input - b.input || a.from - b.from)
          .map(({ input, from, to, rpm, top: flow }) => ({
            input,
            from,
            to,
            severity: 'repair' as const,
            peak: { value: flow, unit: 'g/s' },
            engineSpeed: { value: rpm, unit: 'rpm' },
          })),
        causes: [
          'engine draws more air than meter and its housing were made for',
          'meter table in the control unit ends below what the meter can tell',
          'meter supply voltage low, meter ageing',
        ],
        advice: [
          'Compare full-load mixture with its target in the same pulls: lean there is the harm.',
          'Look up the range of meter and table; record the raw frequency or voltage of the meter.',
          'A larger housing or another meter needs its table, and load, ignition and torque checked again.',
        ],
      };
    }
  }
  const format = observed.length > shown.length;
  if (pulls < PULLS_NEEDED) {
    return {
      ...base,
      outcome: 'unproven',
      summary: format
        ? `Air flow reached the end of the format at ${figure(top)} g/s: the log cannot show what the meter does there.`
        : `Only ${counted(pulls, 'pull')} at full load.`,
      missing: {
        channels: [],
        conditions: format ? ['airMassFlow by a request of wider range'] : [CONDITION],
      },
    };
  }
  const slow = shown.find(({ observation }) => observation.slow !== undefined)?.observation.slow;
  if (slow !== undefined)
    return {
      ...base,
      outcome: 'unproven',
      summary: `Nothing that lasts was found over ${counted(pulls, 'pull')}, but ${slow.reason}.`,
      missing: slow.missing,
    };
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: limit.value - (lead === undefined ? 0 : lead.to - lead.from),
      uncertainty: 0.05,
      samples: pulls * FRESH,
      channels,
    }),
    summary: `Air flow reached ${figure(top, 0)} g/s over ${counted(pulls, 'pull')} and never stood still on a maximum (repair beyond ${limit.value} s).`,
  };
}
