import { LOAD_FRACTION } from '../../derived/load-fraction.js';
import { isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { SAMPLES } from '../../derived/samples.js';
import { mean } from '../../math/mean.js';
import { median, quantile } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, limitOf, worst } from '../ladder.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { figure } from '../wording.js';

/** Live retard (deg, mean of the cylinders at high load) that shows knock, and that shows none. Common practice, no source. */
const KNOCKS = 0.8;
const QUIET = 0.3;
/** The stored factor has to move by so much (points) to show which way is worse. */
const MOVED = 1;
/** Learned retard (deg) that shows that nothing, or much, is learned: which end of the factor is which. */
const NONE_LEARNED = 0.5;
const MUCH_LEARNED = 3;
/** Standard uncertainties: of a factor as shown (points), of a retard (deg). */
const FACTOR_U = 2;
const RETARD_U = 0.2;
/** Drives of which the factor differs by this much (points): another fuel, or a reset in between. */
const DIFFERENT = 10;
const CONDITION = 'twenty seconds of load, so that the factor moves, with knock retard recorded';

interface OctaneObservation {
  /** Stored factor at the end, % of its range; NaN when not recorded. */
  readonly factor: number;
  /** +1: a larger factor is worse; -1: better; 0: not known. */
  readonly polarity: -1 | 0 | 1;
  /** Learned retard, mean of the cylinders, deg; NaN when not recorded. */
  readonly learned: number;
  /** Steady live retard at high load, mean of the cylinders, deg; NaN when not shown. */
  readonly live: number;
  /** Factor at an end of its range and every long trim 0: adaptation was cleared. */
  readonly reset: boolean;
  readonly channels: readonly Channel[];
}

const limit = (name: string, value: number, unit: string, about: string): LimitDefinition => ({
  name,
  value,
  unit,
  comparison: '>=',
  source: 'common practice, no source',
  about,
});

export const octaneLearning = defineRule({
  id: 'fuel.octane-learning',
  system: 'fuel',
  question: 'Has it learned poor fuel?',
  why: 'An engine that has learned poor fuel gives power away all the time, and shows that it has knocked often, or was fed below its map.',
  weight: 1,
  slow: true,
  needs: {
    channels: ['octaneLearning'],
    instead: { octaneLearning: 'knockLearned' },
    optional: ['knockLearned', 'knockRetard', 'fuelTrimLong'],
    derived: [SAMPLES, LOAD_FRACTION],
    conditions: [CONDITION],
  },
  limits: [
    limit('factor-watch', 50, '%', 'stored factor, share of its authority'),
    limit('factor-repair', 80, '%', 'stored factor, share of its authority'),
    limit('mean-watch', 3, 'deg', 'learned retard, or steady retard at load, mean of the cylinders'),
  ],
  method:
    'The stored factor at the end of the recording, as a share of its authority, and the learned retard as the mean of the cylinders. Which end of the factor is the poor one is learned from the drive: from the direction in which it moves while the engine knocks or is quiet under load, or from the learned retard. Live retard that stands at load all the time counts like a learned one. Several drives show whether another fuel changed it.',
  decoys: [
    'just reset: a factor at its end beside long trims that are all 0 proves nothing',
    'polarity: 100 % is good fuel in one control unit and poor fuel in the other; left open where the drive does not tell',
    'single knock events: the median at load counts',
  ],
  cautions: ['Never add ignition advance to cure it; change the fuel and drive, then read again.'],
  proves:
    'Read the stored factor and the learned retard before and after a tank of known good fuel, with some minutes of load and knock retard recorded in each drive.',
  observe(view): OctaneObservation | Refusal {
    const samples = view.derive(SAMPLES);
    if (isRefusal(samples)) return samples;
    const stored = view.optional('octaneLearning');
    const learned = view.family('knockLearned');
    const trims = view.family('fuelTrimLong');
    const load = view.derive(LOAD_FRACTION);
    const live = liveOf(
      view.family('knockRetard').map(({ id }) => samples.held(id)!),
      isRefusal(load) ? undefined : load.high,
    );
    const values = stored === undefined ? undefined : samples.held(stored.id)!.filter((x) => !Number.isNaN(x));
    const degrees = learned.map(({ id }) => Math.abs(lastOf(samples.held(id)!)));
    if ((values === undefined || values.length === 0) && degrees.length === 0)
      return refuse('neither a stored factor nor a learned retard is recorded', { channels: ['octaneLearning'] });
    const factor = values === undefined ? Number.NaN : Math.abs(values[values.length - 1] ?? Number.NaN);
    const moved = values === undefined ? Number.NaN : factor - Math.abs(values[0] ?? Number.NaN);
    const amount = mean(degrees);
    const atEnd = factor <= 0.5 || factor >= 99.5;
    return {
      factor,
      polarity: polarityOf(factor, moved, live, amount),
      learned: amount,
      live: live.middle,
      reset: atEnd && trims.length > 0 && trims.every((trim) => trim.quality.constant && lastOf(trim.values) === 0),
      channels: [...(stored === undefined ? [] : [stored]), ...learned],
    };
  },
  judge,
});

/** Mean of the cylinders over high load: median, what stands there all the time, and what hardly any moment exceeds. */
function liveOf(cylinders: readonly Float64Array[], high: Uint8Array | undefined): { middle: number; top: number } {
  if (high === undefined || cylinders.length === 0) return { middle: Number.NaN, top: Number.NaN };
  const found: number[] = [];
  for (let i = 0; i < high.length; i++) {
    if (high[i] === 0) continue;
    let sum = 0;
    for (const each of cylinders) sum += Math.abs(each[i]!);
    found.push(sum / cylinders.length);
  }
  if (found.length < 20) return { middle: Number.NaN, top: Number.NaN };
  return { middle: median(found), top: quantile(found, 0.98) };
}

function polarityOf(factor: number, moved: number, live: { middle: number; top: number }, learned: number): -1 | 0 | 1 {
  if (Math.abs(moved) >= MOVED) {
    // While it knocks it gets worse, while it is quiet under load better.
    if (live.middle >= KNOCKS) return moved > 0 ? 1 : -1;
    // Quiet all the time: single events move it the other way for a while.
    if (live.middle <= QUIET && live.top < KNOCKS) return moved > 0 ? -1 : 1;
  }
  if (learned <= NONE_LEARNED && Math.abs(factor - 50) > 25) return factor < 50 ? 1 : -1;
  if (learned >= MUCH_LEARNED && Math.abs(factor - 50) > 25) return factor > 50 ? 1 : -1;
  return 0;
}

function lastOf(values: Float64Array): number {
  for (let i = values.length - 1; i >= 0; i--) if (!Number.isNaN(values[i]!)) return values[i]!;
  return Number.NaN;
}

function judge(observed: readonly Observed<OctaneObservation>[], context: Context): Judgement {
  const limits = context.limits();
  const seen = observed.map(({ input, observation }) => ({ input, ...observation }));
  const polarity = seen.map((each) => each.polarity).find((each) => each !== 0) ?? 0;
  const shareOf = (factor: number): number => (polarity === 1 ? factor : polarity === -1 ? 100 - factor : Number.NaN);
  const valid = seen.filter(({ reset }) => !reset);
  const last = (valid.length > 0 ? valid : seen)[Math.max(0, valid.length - 1)]!;
  const share = shareOf(last.factor);
  const retards = [last.learned, last.live].filter((each) => !Number.isNaN(each));
  const retard = retards.length === 0 ? Number.NaN : Math.max(...retards);
  const factors = valid.map(({ factor }) => factor).filter((each) => !Number.isNaN(each));
  const changed = factors.length > 1 && Math.max(...factors) - Math.min(...factors) >= DIFFERENT;
  const base = {
    measures: {
      ...(Number.isNaN(share) ? {} : { learned: { value: share, unit: '%' } }),
      ...(Number.isNaN(retard) ? {} : { retard: { value: retard, unit: 'deg' } }),
    },
    limits: Object.values(limits),
    notes: changed
      ? [
          `The factor differs between the drives (${factors.map((each) => figure(each, 0)).join(', ')} %): another fuel, or a reset in between; the last drive counts.`,
        ]
      : [],
  };
  const open = (summary: string, conditions: readonly string[]): Judgement => ({
    ...base,
    outcome: 'unproven',
    summary,
    missing: { channels: [], conditions },
  });
  const byFactor = Number.isNaN(share) ? undefined : levelOf(share, FACTOR_U, limits, 'factor');
  const byMean = Number.isNaN(retard) ? undefined : levelOf(retard, RETARD_U, limits, 'mean');
  const severity = worst([byFactor, byMean]);
  const told = [
    ...(Number.isNaN(share) ? [] : [`${figure(share, 0)} % of the authority is learned`]),
    ...(Number.isNaN(last.learned) ? [] : [`${figure(last.learned)}° of learned retard`]),
    ...(Number.isNaN(last.live) ? [] : [`${figure(last.live)}° of steady retard at load`]),
  ].join(', ');
  const text = `${told.charAt(0).toUpperCase()}${told.slice(1)}`;
  if (severity !== undefined && valid.length > 0) {
    const factorLeads = byFactor === severity;
    const beyond = limitOf(limits, severity, factorLeads ? 'factor' : 'mean');
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({
        margin: factorLeads ? share - beyond.value : retard - beyond.value,
        uncertainty: factorLeads ? FACTOR_U : RETARD_U,
        samples: 10 * valid.length,
        channels: last.channels,
        doubts: [factorLeads && Number.isNaN(last.learned) ? 0.9 : 1],
      }),
      summary: `${text} (limit ${figure(beyond.value)} ${beyond.unit === '%' ? '%' : '°'}).`,
      causes: [
        'fuel below what the map asks for, now or in the tanks before',
        'charge air too hot, or carbon in the chambers',
        'a map with more ignition than this engine bears',
        'knock sensor or mounting that hears noise',
      ],
      advice: [
        'Fill known good fuel, drive some hours with load, read the factor again: falling means the fuel was it.',
        'Look at knock retard per cylinder and at charge temperature in the same report.',
        'Then carbon, knock sensors, and the ignition map; no ignition is ever added to cure it.',
      ],
    };
  }
  if (valid.length === 0)
    return open(
      'The stored factor stands at its end and all long-term trims are 0: learned values were reset, nothing is proven.',
      ['some hours of driving after the reset'],
    );
  if (Number.isNaN(share) && Number.isNaN(last.learned))
    return open(
      `The stored factor is ${figure(last.factor, 0)} %, but which end of it means poor fuel is not told by the drive.`,
      [CONDITION],
    );
  const margin = Math.min(
    Number.isNaN(share) ? Number.POSITIVE_INFINITY : (limits['factor-watch']!.value - share) / FACTOR_U,
    Number.isNaN(retard) ? Number.POSITIVE_INFINITY : (limits['mean-watch']!.value - retard) / RETARD_U,
  );
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({ margin, uncertainty: 1, samples: 10 * valid.length, channels: last.channels }),
    summary: `${text}; watch from ${figure(limits['factor-watch']!.value)} %${Number.isNaN(retard) ? '' : ` or ${figure(limits['mean-watch']!.value)}°`}.`,
  };
}
