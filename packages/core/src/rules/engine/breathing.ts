import { AMBIENT } from '../../derived/ambient.js';
import { FUEL_CUT } from '../../derived/fuel-cut.js';
import { SAMPLES } from '../../derived/samples.js';
import { IDLE, OVERRUN } from '../../derived/segments.js';
import { WARM } from '../../derived/warm.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, limitOf, worst } from '../ladder.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { clockTime, figure } from '../wording.js';
import { type BreathingReading, IDLE_SECONDS, readBreathing } from './breathing-reading.js';

const CP = 'common practice, no source';
const limits: readonly LimitDefinition[] = [
  {
    name: 'manifold-watch',
    value: 0.45,
    unit: '1',
    comparison: '>',
    source: CP,
    about: 'manifold over barometric pressure at warm idle up to 900 rpm',
  },
  { name: 'manifold-repair', value: 0.55, unit: '1', comparison: '>', source: CP, about: 'the same' },
  {
    name: 'crankcase-watch',
    value: 2.5,
    unit: 'kPa',
    comparison: '>',
    source: CP,
    about: 'crankcase pressure over ambient, warm, for 2 s',
  },
  { name: 'crankcase-repair', value: 5, unit: 'kPa', comparison: '>', source: CP, about: 'the same' },
];
const IDLE_CONDITION = `warm idle <= 900 rpm for >= ${IDLE_SECONDS} s, pedal released, no consumers switched on`;

const MANIFOLD_CAUSES = [
  'air leak behind the throttle, valve of the crankcase or tank ventilation stuck open',
  'low compression or valve timing off: the engine needs more air to turn over',
  'camshafts of much overlap: then it is built so, ask',
  'a heavy load at idle: air conditioning, alternator, converter in D',
];
const MANIFOLD_ADVICE = [
  'Listen and spray or smoke-test the intake; pinch off tank and crankcase ventilation one after the other: does the pressure fall?',
  'Compression and leak-down test, warm.',
  'Check valve timing against its marks and the camshaft adaptation values.',
];
const CRANKCASE_CAUSES = [
  'blow-by past worn rings, pistons or bores',
  'crankcase ventilation blocked, or its valve torn',
  'a turbocharger seal that lets charge into the oil return',
];
const CRANKCASE_ADVICE = [
  'Look at the ventilation first: hoses, separator, valve, frozen or oily; repeat with the oil cap’s pull compared.',
  'Leak-down test: where does the air go, into crankcase, intake or exhaust?',
  'Oil consumption and oil in the charge pipes.',
];

export const breathing = defineRule({
  id: 'engine.breathing',
  system: 'engine',
  question: 'Do the cylinders pump well, and is the crankcase quiet?',
  why: 'A sound engine idles on little air; one with leaks, tired rings or wrong timing needs more, and pushes gas into its crankcase.',
  weight: 2,
  slow: true,
  needs: {
    channels: ['engineSpeed'],
    optional: ['manifoldPressure', 'crankcasePressure', 'barometricPressure', 'coolantTemperature'],
    derived: [SAMPLES, WARM, AMBIENT, IDLE, OVERRUN, FUEL_CUT],
    conditions: [IDLE_CONDITION],
  },
  limits,
  method:
    'Manifold pressure at settled warm idle (from five seconds after the pedal is let go, and 90 s after a start) as a share of the barometric pressure, median over twenty seconds; crankcase pressure held for two seconds with the engine warm. Engines that show no vacuum on the overrun are metered by their valves and left out.',
  decoys: [
    'engines whose valves meter the air: no vacuum on the overrun either, not judged',
    'catalyst heating after a start, raised idle: left out',
    'altitude: the share of the barometric pressure counts, not the pressure',
    'camshafts of much overlap: named as a cause, because a recording cannot tell them from a leak',
  ],
  cautions: [
    'A running engine turns belts and fans: keep hands, hair and sleeves clear; never run it in a closed space.',
  ],
  proves:
    'After a drive that warmed it up, one minute of idle in P or N with everything switched off, with manifold pressure, barometric pressure (or key-on before the start) and engine speed at 1 Hz or faster.',
  observe: (view) => readBreathing(view),
  judge,
});

function judge(observed: readonly Observed<BreathingReading>[], context: Context): Judgement {
  const named = context.limits();
  const idles = observed.flatMap(({ input, observation }) =>
    observation.manifold === undefined || observation.unthrottled
      ? []
      : [{ input, ...observation.manifold, observation }],
  );
  const cases = observed.flatMap(({ input, observation }) =>
    observation.crankcase === undefined ? [] : [{ input, ...observation.crankcase, observation }],
  );
  const idle = idles.reduce<(typeof idles)[number] | undefined>(
    (a, b) => (a === undefined || b.ratio > a.ratio ? b : a),
    undefined,
  );
  const crank = cases.reduce<(typeof cases)[number] | undefined>(
    (a, b) => (a === undefined || b.value > a.value ? b : a),
    undefined,
  );
  const unthrottled = observed.some(({ observation }) => observation.unthrottled);
  const base = {
    measures: {
      ...(idle === undefined
        ? {}
        : {
            manifoldShare: { value: idle.ratio },
            manifold: { value: idle.pressure, unit: 'kPa' },
            idleSpeed: { value: idle.rpm, unit: 'rpm' },
          }),
      ...(crank === undefined ? {} : { crankcase: { value: crank.value, unit: 'kPa' } }),
      idle: { value: observed.reduce((total, { observation }) => total + observation.idle, 0), unit: 's' },
    },
    limits: Object.values(named).filter(({ name }) =>
      name.startsWith('crank') ? crank !== undefined : idle !== undefined,
    ),
    notes: [
      ...(unthrottled
        ? ['No vacuum on the overrun: the valves meter the air, so the idle pressure says nothing.']
        : []),
      ...(idle?.observation.barometer.startsWith('none')
        ? ['Barometric pressure not recorded: standard air was taken.']
        : []),
    ],
  };
  if (idle === undefined && crank === undefined) {
    const noPressure = observed.every(({ observation }) => observation.channels.length === 0);
    return {
      ...base,
      outcome: 'unproven',
      summary: noPressure
        ? 'Neither manifold nor crankcase pressure is recorded.'
        : unthrottled
          ? 'The valves meter the air of this engine: its idle pressure shows nothing.'
          : `Only ${figure(base.measures.idle.value, 0)} s of settled warm idle.`,
      missing: noPressure
        ? { channels: ['manifoldPressure'], conditions: [IDLE_CONDITION] }
        : unthrottled
          ? { channels: ['crankcasePressure'], conditions: [] }
          : { channels: [], conditions: [IDLE_CONDITION] },
    };
  }
  const byIdle = idle === undefined ? undefined : levelOf(idle.ratio, idle.u, named, 'manifold');
  const byCrank = crank === undefined ? undefined : levelOf(crank.value, crank.u, named, 'crankcase');
  const severity = worst([byIdle, byCrank]);
  const parts = [
    ...(idle === undefined
      ? []
      : [
          `warm idle at ${figure(idle.rpm, 0)} rpm on ${figure(idle.pressure, 0)} kPa, ${figure(100 * idle.ratio, 0)} % of the barometric pressure (from ${clockTime(idle.at)})`,
        ]),
    ...(crank === undefined
      ? []
      : [`crankcase at most ${figure(crank.value)} kPa over ambient (${clockTime(crank.at)})`]),
  ].join('; ');
  const summary = `${parts.charAt(0).toUpperCase()}${parts.slice(1)}`;
  const led =
    severity !== undefined && byIdle === severity && idle !== undefined
      ? ('manifold' as const)
      : crank !== undefined &&
          (byCrank === severity || idle === undefined) &&
          (severity !== undefined || idle === undefined)
        ? ('crankcase' as const)
        : ('manifold' as const);
  const reading =
    led === 'manifold'
      ? { value: idle!.ratio, u: idle!.u, samples: idle!.samples, channels: idle!.observation.channels }
      : { value: crank!.value, u: crank!.u, samples: crank!.samples, channels: crank!.observation.channels };
  const doubts = led === 'manifold' && idle!.observation.barometer.startsWith('none') ? [0.8] : [];
  if (severity === undefined) {
    const limit = limitOf(named, 'watch', led);
    const near = reading.value > limit.value ? ', near the limit' : '';
    return {
      ...base,
      outcome: 'clear',
      confidence: confidenceOf({
        margin: limit.value - reading.value,
        uncertainty: reading.u,
        samples: reading.samples,
        channels: reading.channels,
        doubts,
      }),
      summary: `${summary}; watch beyond ${led === 'manifold' ? `${figure(100 * limit.value, 0)} %` : `${figure(limit.value)} kPa`}${near}.`,
    };
  }
  const limit = limitOf(named, severity, led);
  return {
    ...base,
    outcome: 'finding',
    severity,
    confidence: confidenceOf({
      margin: reading.value - limit.value,
      uncertainty: reading.u,
      samples: reading.samples,
      channels: reading.channels,
      doubts,
    }),
    summary: `${summary}; limit ${led === 'manifold' ? `${figure(100 * limit.value, 0)} %` : `${figure(limit.value)} kPa`}.`,
    events: [
      ...(byIdle !== undefined && idle !== undefined
        ? [
            {
              input: idle.input,
              from: idle.at,
              to: idle.at + idle.seconds,
              severity: byIdle,
              peak: { value: idle.ratio },
              engineSpeed: { value: idle.rpm, unit: 'rpm' },
            },
          ]
        : []),
      ...(byCrank !== undefined && crank !== undefined
        ? [
            {
              input: crank.input,
              from: crank.at,
              to: crank.at + 2,
              severity: byCrank,
              peak: { value: crank.value, unit: 'kPa' },
            },
          ]
        : []),
    ],
    causes: [...(byIdle === undefined ? [] : MANIFOLD_CAUSES), ...(byCrank === undefined ? [] : CRANKCASE_CAUSES)],
    advice: [...(byIdle === undefined ? [] : MANIFOLD_ADVICE), ...(byCrank === undefined ? [] : CRANKCASE_ADVICE)],
  };
}
