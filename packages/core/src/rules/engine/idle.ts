import { exceeds } from '../../derived/exceeds.js';
import { both, maskOf, segmentsOf } from '../../derived/intervals.js';
import { MISFIRES } from '../../derived/misfires.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import { holds } from '../../derived/refresh.js';
import { SAMPLES } from '../../derived/samples.js';
import { IDLE } from '../../derived/segments.js';
import { WARM } from '../../derived/warm.js';
import type { Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, limitOf, rankOf, worst } from '../ladder.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { clockTime, figure, signed } from '../wording.js';
import { FRESH, type IdleStretch, LONG, readStretch, SETTLES, SLOW, TARGET, unstepped } from './idle-reading.js';

const CP = 'common practice, no source';
const limit = (name: string, value: number, about: string): LimitDefinition => ({
  name,
  value,
  unit: 'rpm',
  comparison: '>',
  source: CP,
  about,
});
const SWING = 'swing of a warm idle: 1.4826 times the median deviation from its 10 s median';
const OFF = 'warm idle away from its target, up or down';
const CONDITION = `warm idle >= ${LONG + SETTLES} s, selector and accessories left alone`;
/** What an engine control unit shows of load steps at idle. */
const STATES = ['selector', 'airConditioningActive', 'airConditioningRequest', 'fanDuty'] as const;

interface Observation {
  readonly stretches: readonly IdleStretch[];
  readonly channels: readonly Channel[];
  /** Misfires at idle per 100 firings; NaN when not recorded. */
  readonly misfires: number;
  readonly hasTarget: boolean;
}

export const idle = defineRule({
  id: 'engine.idle',
  system: 'engine',
  question: 'Does it idle steadily, and where it should?',
  why: 'An idle that swings or sits away from its target is the cheapest early sign of air leaks, misfires, dirty throttles and worn mounts.',
  weight: 1,
  needs: {
    channels: ['engineSpeed'],
    optional: ['idleSpeedTarget', 'misfireCount', 'selector', 'fanDuty'],
    derived: [IDLE, WARM, SAMPLES, MISFIRES],
    conditions: [CONDITION],
  },
  limits: [
    limit('watch', 30, SWING),
    limit('repair', 60, SWING),
    limit('target-watch', 50, OFF),
    limit('target-repair', 100, OFF),
  ],
  method:
    'Warm idle is taken from ten seconds after the pedal is released, split where the selector, the target or a logged accessory steps. In each stretch of half a minute the median of ten seconds is taken off, and the normalised median deviation of what is left is the swing; single dips and steps do not move it. The distance to the target is the median over the stretch.',
  decoys: [
    'load steps (fan, climate compressor, steering): the stretch is split where they are logged, and the median is not moved by short dips',
    'fast idle of a cold engine, catalyst heating: warm idle only',
    'revving at standstill: ten seconds after the pedal is released',
    'big injectors and sharp cams swing by design: give their limits in the profile',
  ],
  cautions: ['Never let it idle in a closed space.'],
  proves: 'One minute of warm idle in P or N and one in D, foot off the pedal, climate control off.',
  observe(view) {
    const speed = view.channel('engineSpeed');
    const segments = view.derive(IDLE);
    if (isRefusal(segments)) return segments;
    const warm = view.derive(WARM);
    if (isRefusal(warm)) return warm;
    const slow = holds(speed, SLOW, FRESH);
    if (slow !== true) return slow;
    const samples = view.derive(SAMPLES);
    if (isRefusal(samples)) return samples;
    const { time } = view;
    const target = view.optional('idleSpeedTarget') ? samples.held('idleSpeedTarget') : undefined;
    const columns = [
      ...STATES.flatMap((id) => {
        const values = samples.held(id);
        return values === undefined ? [] : [{ values, step: id === 'fanDuty' ? 10 : 0.5 }];
      }),
      ...(target === undefined ? [] : [{ values: target, step: TARGET }]),
    ];
    const steady = new Uint8Array(time.length);
    for (const { from, start, end } of segments)
      for (let i = start; i <= end; i++) if (time[i]! - from >= SETTLES) steady[i] = 1;
    const mask = unstepped(both(steady, warm.mask), time, columns);
    const found = segmentsOf(mask, time, { minDuration: LONG, maxStep: samples.maxStep });
    const stretches = found.flatMap(
      ({ start, end }) => readStretch(speed, time, start, end, target, samples.held('selector')) ?? [],
    );
    if (stretches.length === 0) return refuse('no settled warm idle of half a minute', { conditions: [CONDITION] });
    const misfires = view.derive(MISFIRES);
    let missed = Number.NaN;
    if (!isRefusal(misfires)) {
      const idling = maskOf(segments, time.length);
      let count = 0;
      let turns = 0;
      for (let i = 0; i < idling.length; i++) {
        if (idling[i] === 0) continue;
        count += misfires.added[i]!;
        turns += misfires.revolutions[i]!;
      }
      missed = (200 * count) / (turns * misfires.cylinders);
    }
    const channels = [speed, ...[view.optional('idleSpeedTarget')].flatMap((channel) => channel ?? [])];
    return { stretches, channels, misfires: missed, hasTarget: target !== undefined } satisfies Observation;
  },
  judge,
});

function judge(observed: readonly Observed<Observation>[], context: Context): Judgement {
  const named = context.limits();
  const all = observed.flatMap(({ input, observation }) =>
    observation.stretches.map((stretch) => ({ input, stretch, observation })),
  );
  const rated = all.map((each) => {
    const { swing, uSwing, off, uOff } = each.stretch;
    const bySwing = levelOf(swing, uSwing, named);
    const byTarget = Number.isNaN(off) ? undefined : levelOf(Math.abs(off), uOff, named, 'target');
    return { ...each, bySwing, byTarget, level: worst([bySwing, byTarget]) };
  });
  const most = all.reduce((a, b) => (b.stretch.swing > a.stretch.swing ? b : a)).stretch;
  const aimed = all.filter(({ stretch }) => !Number.isNaN(stretch.off));
  const furthest = aimed.reduce<IdleStretch | undefined>(
    (a, { stretch }) => (a === undefined || Math.abs(stretch.off) > Math.abs(a.off) ? stretch : a),
    undefined,
  );
  const seconds = all.reduce((total, { stretch }) => total + stretch.to - stretch.from, 0);
  const base = {
    measures: {
      swing: { value: most.swing, unit: 'rpm' },
      idleSpeed: { value: most.level, unit: 'rpm' },
      ...(furthest === undefined ? {} : { offTarget: { value: furthest.off, unit: 'rpm' } }),
      idle: { value: seconds, unit: 's' },
    },
    limits: Object.values(named).filter(({ name }) => furthest !== undefined || !name.startsWith('target')),
    notes: furthest === undefined ? ['No idle target recorded: the level of the idle was not judged.'] : [],
  };
  const severity = worst(rated.map(({ level }) => level));
  const channels = observed.flatMap(({ observation }) => observation.channels);
  if (severity === undefined) {
    const near = exceeds(most.swing, most.uSwing, named.watch!.value, '>') === 'near' ? ', near the limit' : '';
    const aim = furthest === undefined ? '' : `, ${signed(furthest.off, 0)} rpm from its target`;
    return {
      ...base,
      outcome: 'clear',
      confidence: confidenceOf({
        margin: named.watch!.value - most.swing,
        uncertainty: most.uSwing,
        samples: all.reduce((total, { stretch }) => total + stretch.samples, 0),
        channels,
      }),
      summary: `Warm idle of ${figure(most.level, 0)} rpm swings by ${figure(most.swing, 0)} rpm at most (limit ${figure(named.watch!.value, 0)} rpm)${near}${aim}.`,
    };
  }
  const led = rated
    .filter(({ level }) => level === severity)
    .reduce((a, b) => (b.stretch.swing > a.stretch.swing ? b : a));
  const swings = led.bySwing !== undefined && rankOf(led.bySwing) >= rankOf(led.byTarget);
  const { stretch } = led;
  const exceeded = swings ? limitOf(named, severity) : limitOf(named, severity, 'target');
  const misfires = Math.max(...observed.map(({ observation }) => observation.misfires || 0));
  const text = [
    ...(led.bySwing === undefined
      ? []
      : [
          `swings by ${figure(stretch.swing, 0)} rpm about ${figure(stretch.level, 0)} rpm${Number.isNaN(stretch.frequency) ? '' : `, ${figure(stretch.frequency)} times a second`}`,
        ]),
    ...(led.byTarget === undefined
      ? []
      : [`stands ${figure(Math.abs(stretch.off), 0)} rpm ${stretch.off > 0 ? 'above' : 'below'} its target`]),
  ].join(' and ');
  return {
    ...base,
    outcome: 'finding',
    severity,
    confidence: confidenceOf({
      margin: (swings ? stretch.swing : Math.abs(stretch.off)) - exceeded.value,
      uncertainty: swings ? stretch.uSwing : stretch.uOff,
      samples: stretch.samples,
      channels,
    }),
    events: rated.flatMap(({ input, stretch: each, level }) =>
      level === undefined
        ? []
        : [{ input, from: each.from, to: each.to, severity: level, peak: { value: each.swing, unit: 'rpm' } }],
    ),
    summary: `Warm idle ${text} (from ${clockTime(stretch.from)}, for ${figure(stretch.to - stretch.from, 0)} s); limit ${figure(exceeded.value, 0)} rpm.`,
    causes: causesOf(stretch, swings, misfires),
    advice: [
      ...(misfires >= 0.5 ? ['Settle the misfires first (engine.misfire): the idle follows them.'] : []),
      'Look at it again with climate control, lamps and heated windows off, in P or N.',
      'Smoke test of the intake; look at crankcase ventilation, purge valve and dipstick seal.',
      'Clean the throttle and have its rest position learned anew.',
      'Cams or injectors larger than the works fitted: give your own limits in the profile.',
    ],
  };
}

/** Likely first. */
function causesOf({ off, frequency }: IdleStretch, swings: boolean, misfires: number): string[] {
  const air = 'air drawn past the meter or throttle: intake gasket, crankcase ventilation, purge valve stuck open';
  const missed = 'misfires at idle: plugs, coils, injectors';
  const throttle = 'dirty throttle, or its rest position never learned';
  if (!swings)
    return off > 0
      ? [air, 'throttle that does not close', 'idle raised on purpose by the map (cams, battery charge)']
      : [throttle, 'load that the control unit does not know of', 'injectors or map that do not fit each other'];
  if (misfires >= 0.5) return [missed, air, throttle];
  if (frequency > 2) return [missed, 'worn engine mounts or flywheel', air];
  return [air, throttle, 'mixture that swings: lambda sensor, injectors or map', missed];
}
