import { isRefusal, refuse } from '../../derived/recipe.js';
import { freshRate } from '../../derived/refresh.js';
import { ENGINE_STARTS, type EngineStart } from '../../derived/starts.js';
import type { Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, limitOf, rankOf, worst } from '../ladder.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { clockTime, figure, listed } from '../wording.js';

const CP = 'common practice, no source';
/** Slowest log that times a start, Hz. */
const SLOWEST = 5;
/** Coolant from which an engine starts warm, degC. */
const HOT = 60;

const limits: readonly LimitDefinition[] = [
  {
    name: 'cold-watch',
    value: 2,
    unit: 's',
    comparison: '>',
    source: CP,
    about: 'first rotation to above 500 rpm, coolant below 60 °C',
  },
  { name: 'cold-repair', value: 4, unit: 's', comparison: '>', source: CP, about: 'the same' },
  {
    name: 'hot-watch',
    value: 1.5,
    unit: 's',
    comparison: '>',
    source: CP,
    about: 'first rotation to above 500 rpm, coolant from 60 °C',
  },
  { name: 'hot-repair', value: 4, unit: 's', comparison: '>', source: CP, about: 'the same' },
];

interface StartObservation {
  readonly starts: readonly EngineStart[];
  readonly channel: Channel;
}

const CONDITION = 'a start from cold and one warm, engine off and ignition on for 3 s before each';

export const startQuality = defineRule({
  id: 'engine.start-quality',
  system: 'engine',
  question: 'Does it start well, cold and hot?',
  why: 'An engine that has to be cranked for long tells of fuel pressure that is lost overnight, leaking injectors, weak compression or a tired battery.',
  weight: 1,
  needs: {
    channels: ['engineSpeed'],
    optional: ['coolantTemperature', 'engineOilTemperature', 'selector', 'startStopActive'],
    derived: [ENGINE_STARTS],
    conditions: [CONDITION, `engineSpeed at >= ${SLOWEST} Hz`],
  },
  limits,
  method:
    'From the first rotation out of a standstill that the recording holds until the engine has run above 500 rpm for a second; both ends lie between two samples, which is its uncertainty. Starts below and from 60 °C of coolant have limits of their own; where no temperature is recorded the limits of a cold start are used. An attempt that fails counts with the time it was cranked.',
  decoys: [
    'restarts after an automatic stop: the starter is another, the engine stands ready; left out',
    'recordings that begin while the engine turns already: no start is seen',
    'slow logs: not timed below 5 Hz',
  ],
  cautions: ['Crank for ten seconds at most, then let starter and battery rest; never start it in a closed space.'],
  proves:
    'Begin the recording with the ignition on before a cold start; stop the warm engine at the end, wait five seconds and start it once more, all at 10 Hz.',
  observe(view): StartObservation | ReturnType<typeof refuse> {
    const channel = view.channel('engineSpeed');
    const starts = view.derive(ENGINE_STARTS);
    if (isRefusal(starts)) return starts;
    const { hz } = freshRate(channel);
    const seen = starts.filter(({ from }) => !Number.isNaN(from));
    if (seen.length === 0) return refuse('no start of the engine is in the recording', { conditions: [CONDITION] });
    if (hz > 0 && hz < 0.98 * SLOWEST)
      return refuse(`the engine speed comes at ${figure(hz)} Hz; a start needs ${SLOWEST} Hz`, {
        conditions: [`engineSpeed at >= ${SLOWEST} Hz`],
      });
    return { starts: seen, channel };
  },
  judge,
});

function judge(observed: readonly Observed<StartObservation>[], context: Context): Judgement {
  const named = context.limits();
  const all = observed.flatMap(({ input, observation }) =>
    observation.starts.map((start) => {
      const what = start.temperature >= HOT ? ('hot' as const) : ('cold' as const);
      return { input, start, what, level: levelOf(start.duration, start.u, named, what) };
    }),
  );
  const cold = all.filter(({ what }) => what === 'cold');
  const hot = all.filter(({ what }) => what === 'hot');
  const longest = (list: typeof all) => list.reduce((a, b) => (b.start.duration > a.start.duration ? b : a));
  const channels = observed.map(({ observation }) => observation.channel);
  const severity = worst(all.map(({ level }) => level));
  const unknown = all.some(({ start }) => Number.isNaN(start.temperature));
  const base = {
    measures: {
      starts: { value: all.length },
      ...(cold.length === 0 ? {} : { cold: { value: longest(cold).start.duration, unit: 's' } }),
      ...(hot.length === 0 ? {} : { hot: { value: longest(hot).start.duration, unit: 's' } }),
    },
    limits: Object.values(named).filter(({ name }) => (name.startsWith('hot') ? hot.length > 0 : cold.length > 0)),
    notes: unknown ? ['No temperature recorded at the start: the limits of a cold start were used.'] : [],
  };
  const told = listed(
    [cold, hot].flatMap((list) => {
      if (list.length === 0) return [];
      const { start, what } = longest(list);
      return [`${what === 'hot' ? 'warm' : 'cold'} start in ${figure(start.duration)} s at ${clockTime(start.from)}`];
    }),
  );
  if (severity === undefined) {
    const lead = cold.length > 0 ? longest(cold) : longest(hot);
    const limit = limitOf(named, 'watch', lead.what);
    const near = all.some(({ start, what }) => start.duration > limitOf(named, 'watch', what).value);
    return {
      ...base,
      outcome: 'clear',
      confidence: confidenceOf({
        margin: limit.value - lead.start.duration,
        uncertainty: lead.start.u,
        samples: all.length,
        channels,
      }),
      summary: `${told.charAt(0).toUpperCase()}${told.slice(1)} (limit ${figure(limit.value)} s)${near ? ', near the limit' : ''}.`,
    };
  }
  const led = all
    .filter(({ level }) => rankOf(level) === rankOf(severity))
    .reduce((a, b) => (b.start.duration > a.start.duration ? b : a));
  const limit = limitOf(named, severity, led.what);
  return {
    ...base,
    outcome: 'finding',
    severity,
    confidence: confidenceOf({
      margin: led.start.duration - limit.value,
      uncertainty: led.start.u,
      samples: 2 * all.filter(({ level }) => level !== undefined).length,
      channels,
    }),
    summary: `${led.what === 'hot' ? 'A warm' : 'A cold'} start took ${figure(led.start.duration)} s from the first rotation at ${clockTime(led.start.from)} (limit ${figure(limit.value)} s)${Number.isNaN(led.start.to) ? ', and the engine did not keep running' : ''}.`,
    events: all.flatMap(({ input, start, level }) =>
      level === undefined
        ? []
        : [
            {
              input,
              from: start.from,
              to: Number.isNaN(start.to) ? start.from + start.duration : start.to,
              severity: level,
              peak: { value: start.duration, unit: 's' },
              ...(Number.isNaN(start.temperature) ? {} : { coolant: { value: start.temperature, unit: 'degC' } }),
            },
          ],
    ),
    causes:
      led.what === 'hot'
        ? [
            'fuel pressure lost while standing: check valve of the pump, leaking injector',
            'vapour in the fuel line or from the tank ventilation',
            'crankshaft sensor that fails when hot',
            'weak battery or starter',
          ]
        : [
            'fuel pressure lost overnight: check valve of the pump, leaking injector',
            'weak battery, corroded leads, tired starter',
            'plugs worn or wet',
            'low compression, or fuel of poor quality',
          ],
    advice: [
      'Battery voltage at rest and while cranking; clean the leads.',
      'Switch the ignition on twice before cranking: if it then starts at once, fuel pressure is lost while standing.',
      'Hold-pressure test of the fuel system; then compression.',
    ],
  };
}
