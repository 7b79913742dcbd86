import { refuse } from '../../derived/recipe.js';
import { freshRate, heldValues } from '../../derived/refresh.js';
import type { Certainty } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { rankOf } from '../ladder.js';
import {
  type Context,
  defineRule,
  type Judgement,
  type Limit,
  type LimitDefinition,
  type Observed,
  type Severity,
} from '../rule.js';
import { clockTime, figure } from '../wording.js';
import { type Deviation, deviationOf, LASTS, WARM } from './pressure-reading.js';

const CP = 'common practice, no source';
const limit = (name: string, value: number, unit: string, about: string): LimitDefinition => ({
  name,
  value,
  unit,
  comparison: '>',
  source: CP,
  about,
});
const PAIRS = [
  ['transmissionOilPressure', 'transmissionOilPressureTarget', 'Main pressure'],
  ['clutchPressure.clutch1', 'clutchPressureTarget.clutch1', 'Pressure of clutch 1'],
  ['clutchPressure.clutch2', 'clutchPressureTarget.clutch2', 'Pressure of clutch 2'],
  ['clutchPressure', 'clutchPressureTarget', 'Clutch pressure'],
  ['converterClutchPressure', 'converterClutchPressureTarget', 'Converter clutch pressure'],
] as const;
const NEEDED = 3;
/** Seconds of warm, steady command that it takes. */
const ENOUGH = 30;

interface Pair extends Deviation {
  readonly name: string;
  readonly warm: boolean;
  readonly certain: readonly { readonly certainty: Certainty }[];
}

export const pressure = defineRule({
  id: 'transmission.pressure',
  system: 'transmission',
  question: 'Does the hydraulic pressure follow its command?',
  why: 'Too little pressure lets clutches slip and burn; the pump, a valve or a seal gives notice here long before.',
  weight: 2,
  needs: {
    channels: [],
    optional: [
      'transmissionOilPressure',
      'transmissionOilPressureTarget',
      'clutchPressure',
      'clutchPressureTarget',
      'converterClutchPressure',
      'converterClutchPressureTarget',
      'transmissionOilTemperature',
    ],
    derived: [],
    conditions: [`transmission fluid >= ${WARM} °C, command steady for >= ${ENOUGH} s in all`],
  },
  limits: [
    limit('share-watch', 10, '%', 'deviation from the command'),
    limit('pressure-watch', 0.5, 'bar', 'and no less than this'),
    limit('share-repair', 20, '%', 'deviation from the command'),
    limit('pressure-repair', 1, 'bar', 'and no less than this'),
  ],
  method:
    'Each recorded pressure is compared with its command while the fluid is warm and at least 0.3 s after any step of the command of more than 1 bar. A deviation counts when its lower 95 % bound, with 2 % of sensor tolerance, stays beyond the larger of both limits for a second.',
  decoys: [
    'cold fluid: slow and at high pressure by nature, left out',
    'steps of the command: the valve needs a moment, left out',
    'a sensor a few percent off: its tolerance is part of the uncertainty',
  ],
  cautions: ['Hot fluid under pressure: gauges are fitted by qualified people with the engine off.'],
  proves:
    'A quarter of an hour of driving with warm fluid, with the pressure and its command recorded at 5 Hz or more.',
  notApplicableUnshown: ({ transmission: { kind } }) =>
    kind === 'manual' ? 'A manual gearbox has no hydraulic clutches.' : undefined,
  observe(view, context) {
    const fluid = view.optional('transmissionOilTemperature');
    const temperature = fluid === undefined ? undefined : heldValues(fluid.values, view.time);
    const limits = context.limits();
    let slow: { readonly id: string; readonly name: string } | undefined;
    const pairs = PAIRS.flatMap(([a, t, name]): Pair[] => {
      const actual = view.optional(a as 'clutchPressure');
      const target = view.optional(t as 'clutchPressureTarget');
      if (!actual || !target || actual.quality.constant) return [];
      if (!(freshRate(actual).hz >= 0.95 * NEEDED)) {
        slow = { id: actual.id, name };
        return [];
      }
      const found = deviationOf(
        heldValues(actual.values, view.time),
        heldValues(target.values, view.time),
        temperature,
        view.time,
        actual.quality.quantum,
        limits,
      );
      return [{ ...found, name, warm: fluid !== undefined, certain: [actual, target] }];
    });
    if (pairs.length > 0) return { pairs };
    if (slow !== undefined)
      return refuse(
        `the ${slow.name[0]!.toLowerCase()}${slow.name.slice(1)} is recorded too slowly to see a deviation of ${LASTS} s`,
        {
          conditions: [`${slow.id} at >= ${NEEDED} Hz`],
        },
      );
    return refuse('no hydraulic pressure with its command is recorded', {
      channels: ['transmissionOilPressure', 'transmissionOilPressureTarget'],
    });
  },
  judge,
});

/** Deviation (bar) allowed at a command: the larger of the share and the pressure. */
function scaled(limits: Readonly<Record<string, Limit>>, level: Severity, target: number): number {
  return Math.max((limits[`share-${level}`]!.value / 100) * target, limits[`pressure-${level}`]!.value);
}

function judge(observed: readonly Observed<{ readonly pairs: readonly Pair[] }>[], context: Context): Judgement {
  const limits = context.limits();
  const all = observed.flatMap(({ input, observation }) => observation.pairs.map((pair) => ({ input, pair })));
  const worst = all.reduce((a, b) => {
    const more = rankOf(b.pair.severity) - rankOf(a.pair.severity);
    return more > 0 || (more === 0 && (b.pair.share > a.pair.share || Number.isNaN(a.pair.share))) ? b : a;
  });
  const { pair } = worst;
  const seconds = Math.max(...all.map((each) => each.pair.seconds));
  const doubts = [pair.warm ? 1 : 0.8];
  const base = {
    measures: {
      ...(Number.isNaN(pair.value)
        ? {}
        : {
            deviation: { value: pair.value, unit: 'bar' },
            deviationShare: { value: (100 * pair.value) / pair.target, unit: '%' },
          }),
      // Deviation held for a second over the watch limit at that command.
      ...(Number.isNaN(pair.share) ? {} : { overLimit: { value: pair.share } }),
      seconds: { value: seconds, unit: 's' },
    },
    limits: Object.values(limits),
    ...(pair.warm ? {} : { notes: ['Fluid temperature not recorded: cold fluid cannot be left out.'] }),
  };
  const share = figure(Math.abs((100 * pair.value) / pair.target), 0);
  const told = `${pair.name} stood ${figure(Math.abs(pair.value), 2)} bar (${share} %) ${pair.value < 0 ? 'below' : 'above'} its command of ${figure(pair.target)} bar at ${clockTime(pair.at)}`;
  if (pair.severity !== undefined) {
    const scale = pair.severity === 'repair' ? 2 : 1;
    return {
      ...base,
      outcome: 'finding',
      severity: pair.severity,
      confidence: confidenceOf({
        margin: pair.share - scale,
        uncertainty: pair.u,
        samples: Math.min(30, pair.samples),
        channels: pair.certain,
        doubts,
      }),
      events: [
        {
          input: worst.input,
          from: pair.at,
          to: pair.at + LASTS,
          severity: pair.severity,
          what: pair.name,
          peak: { value: pair.value, unit: 'bar' },
          command: { value: pair.target, unit: 'bar' },
          usual: { value: pair.usual, unit: 'bar' },
          limit: { value: scaled(limits, pair.severity, pair.target), unit: 'bar' },
        },
      ],
      summary: `${told} for a second or more, limit ${figure(limits[`share-${pair.severity}`]!.value)} % and ${figure(limits[`pressure-${pair.severity}`]!.value)} bar.`,
      causes:
        pair.value < 0
          ? ['fluid level low or filter clogged', 'pump worn', 'pressure valve sticking, seal leaking inside']
          : ['pressure valve sticking', 'pressure sensor off'],
      advice: [
        'Check fluid level and condition at the prescribed temperature.',
        'Change filter and fluid when due.',
        'Have the pressure compared with a gauge before parts are replaced.',
      ],
    };
  }
  if (!(seconds >= ENOUGH) || Number.isNaN(pair.value)) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `Warm fluid and a steady command were there for ${figure(seconds, 0)} s only, ${ENOUGH} s are needed.`,
      missing: { channels: [], conditions: [`transmission fluid >= ${WARM} °C for >= ${ENOUGH} s of driving`] },
    };
  }
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: 1 - pair.share,
      uncertainty: pair.u,
      samples: Math.min(100, pair.samples),
      channels: pair.certain,
      doubts,
    }),
    summary: `${told} at most, for a second; ${pair.share > 1 ? 'near the limit of' : 'within'} ${figure(limits['share-watch']!.value)} % or ${figure(limits['pressure-watch']!.value)} bar over ${figure(seconds, 0)} s${pair.share > 1 ? ', not surely beyond it' : ''}.`,
  };
}
