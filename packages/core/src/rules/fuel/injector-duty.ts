import { uncertaintyOf } from '../../derived/exceeds.js';
import { FUEL_CUT } from '../../derived/fuel-cut.js';
import { INJECTION, type Injection } from '../../derived/injection.js';
import { widened } from '../../derived/intervals.js';
import { isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { SAMPLES } from '../../derived/samples.js';
import { PULLS } from '../../derived/segments.js';
import { heldMaximum } from '../../math/held-maximum.js';
import { injectorDuty as dutyOf, injectionAngle } from '../../physics/injection.js';
import type { Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, limitOf } from '../ladder.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { clockTime, figure } from '../wording.js';

/** A value counts when it was held for this long (s) and over three fresh samples. */
const HELD = 0.3;
const FRESH = 3;
/** Cranking and idle are left out, rpm; a clear answer takes full load up to this share of the limit, or this speed (rpm). */
const SLOWEST = 1000;
const TOP = 0.75;
const TOP_UNKNOWN = 5000;
/** Fresh values a second below which a peak slips through. */
const RATE = 4;
/** Standard uncertainty (share) of speed and time that were not read at the same moment. */
const APART = 0.01;
const CONDITION = 'full-load pull of >= 2 s up to three quarters of the rev limit, where lawful and safe';

type Kind = 'duty' | 'angle';
const UNIT: Readonly<Record<Kind, string>> = { duty: '%', angle: 'deg' };

interface Peak {
  readonly value: number;
  readonly u: number;
  readonly from: number;
  readonly rpm: number;
  readonly time: number;
}

interface DutyObservation {
  readonly kind: Injection['kind'];
  readonly peaks: Readonly<Record<Kind, Peak | undefined>>;
  /** Highest engine speed (rpm) of a pull, NaN without one. */
  readonly top: number;
  readonly hz: number;
  readonly samples: number;
  readonly channels: readonly Channel[];
}

const limit = (name: string, value: number, about: string): LimitDefinition => ({
  name,
  value,
  unit: name.startsWith('duty') ? '%' : 'deg',
  comparison: '>',
  source: name === 'duty-watch' ? 'common practice (calculator pages: 80 to 85 %)' : 'common practice, no source',
  about,
});

export const injectorDuty = defineRule({
  id: 'fuel.injector-duty',
  system: 'fuel',
  question: 'Are the injectors big enough?',
  why: 'An injector that is open all the time, or that has no time left in the cycle, gives no more fuel: the next step of boost runs lean.',
  weight: 2,
  needs: {
    channels: ['injectionTime', 'engineSpeed'],
    optional: ['fuelRailPressure', 'pedalPosition'],
    derived: [SAMPLES, INJECTION, FUEL_CUT, PULLS],
    conditions: [CONDITION, 'injectionTime at >= 4 Hz'],
  },
  limits: [
    limit('duty-watch', 85, 'port injection: share of the cycle in which the injector is open'),
    limit('duty-repair', 95, 'port injection: share of the cycle in which the injector is open'),
    limit(
      'angle-watch',
      200,
      'direct injection: crank angle that the injection takes; the profile may set the engine’s own window',
    ),
    limit('angle-repair', 240, 'direct injection: crank angle that the injection takes'),
  ],
  method:
    'Port: opening time x speed / 1200 in % of the cycle. Direct: 0.006 x speed x opening time in degrees of the crank. The highest value held over a third of a second and three fresh samples counts, away from fuel cuts and cranking. Where the injectors sit comes from the profile or the rail pressure; when neither tells, only what is in order by both measures is called clear. Clear takes full load at high speed.',
  decoys: [
    'long openings at low speed: time alone is no duty',
    'two sets of injectors (port and direct): one opening time is not all of the fuel; left open when the profile says so',
    'cranking and fuel cuts: left out',
    'opening times in microseconds: the unit is settled when the file is read',
  ],
  cautions: ['Full load only on a closed course or where the law allows it; break the pull off when lambda runs lean.'],
  proves:
    'One full-load pull in third gear up to near the limit, with injection time, engine speed, rail pressure and pedal at 10 Hz; engine.injection in the profile.',
  observe(view, context): DutyObservation | Refusal {
    const injection = view.derive(INJECTION);
    if (isRefusal(injection)) return injection;
    const samples = view.derive(SAMPLES);
    if (isRefusal(samples)) return samples;
    const rpm = samples.held('engineSpeed')!;
    const cut = view.derive(FUEL_CUT);
    const use = new Uint8Array(rpm.length).fill(1);
    if (!isRefusal(cut))
      for (const { start, end } of widened(cut.segments, view.time, 0.2, 0.5)) use.fill(0, start, end + 1);
    const hz = Math.min(injection.hz, samples.hz('engineSpeed'));
    const held = Math.max(HELD, (FRESH - 1) / hz);
    const peakOf = (per: (time: number, speed: number) => number): Peak | undefined => {
      const values = rpm.map((n, i) => (use[i] === 1 && n >= SLOWEST ? per(injection.time[i]!, n) : Number.NaN));
      const { value, index } = heldMaximum(values, view.time, held, samples.maxStep);
      if (index < 0) return undefined;
      const speed = rpm[index]!;
      const u = Math.hypot(per(uncertaintyOf(injection.channel), speed), APART * value);
      return { value, u, from: view.time[index]!, rpm: speed, time: injection.time[index]! };
    };
    const pulls = view.derive(PULLS);
    let top = Number.NaN;
    if (!isRefusal(pulls))
      for (const { start, end } of pulls)
        for (let i = start; i <= end; i++) if (use[i] === 1 && !(rpm[i]! <= top)) top = rpm[i]!;
    const peaks = { duty: peakOf(dutyOf), angle: peakOf(injectionAngle) };
    if (peaks.duty === undefined)
      return refuse('the engine was not driven above 1000 rpm', { conditions: [CONDITION] });
    const asked = TOP * (context.vehicle.engine.revLimit ?? TOP_UNKNOWN / TOP);
    return {
      kind: injection.kind,
      peaks,
      top: top >= asked ? top : Number.NaN,
      hz,
      samples: Math.max(FRESH, Math.round(held * hz) + 1),
      channels: [injection.channel, view.channel('engineSpeed')],
    };
  },
  judge,
});

function judge(observed: readonly Observed<DutyObservation>[], context: Context): Judgement {
  const limits = context.limits();
  const seen = observed.map(({ input, observation }) => ({ input, ...observation }));
  const kinds = [...new Set(seen.map(({ kind }) => kind).filter((kind) => kind !== undefined))];
  const kind = kinds.length === 1 ? kinds[0] : undefined;
  const ways: readonly Kind[] = kind === 'port' ? ['duty'] : kind === 'direct' ? ['angle'] : ['duty', 'angle'];
  const best = (way: Kind) => seen.reduce((a, b) => ((b.peaks[way]?.value ?? 0) > (a.peaks[way]?.value ?? 0) ? b : a));
  const shown = ways.map((way) => ({ way, from: best(way), peak: best(way).peaks[way]! }));
  const base = {
    measures: Object.fromEntries(shown.map(({ way, peak }) => [way, { value: peak.value, unit: UNIT[way] }])),
    limits: Object.values(limits).filter(({ name }) => ways.some((way) => name.startsWith(way))),
  };
  const told = ({ way, peak }: (typeof shown)[number]): string =>
    `${figure(peak.value, 0)} ${way === 'duty' ? '% of the cycle' : '° of the crank'} at ${figure(peak.rpm, 0)} rpm (${figure(peak.time)} ms, ${clockTime(peak.from)})`;
  const [lead] = shown;
  const levels = shown.map(({ way, peak }) => levelOf(peak.value, peak.u, limits, way));
  if (kind === 'both')
    return {
      ...base,
      outcome: 'unproven',
      summary: `Two sets of injectors share the fuel; the recorded one is open for ${told(lead!)}, which tells nothing of the other.`,
      missing: { channels: [], conditions: ['opening times of both sets of injectors'] },
    };
  if (kind === undefined && levels.some((level) => level !== undefined))
    return {
      ...base,
      outcome: 'unproven',
      summary: `Open for ${shown.map(told).join(', or ')}: too long or not, depending on whether the injectors sit in the ports or the cylinders, which is not known.`,
      missing: { channels: ['fuelRailPressure'], conditions: ['vehicle profile with engine.injection'] },
    };
  const severity = levels[0];
  const { way, from, peak } = lead!;
  const support = { uncertainty: peak.u, samples: from.samples, channels: from.channels };
  if (severity !== undefined) {
    const beyond = limitOf(limits, severity, way);
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({ ...support, margin: peak.value - beyond.value }),
      summary: `Injectors are open for ${told(lead!)}; limit ${figure(beyond.value, 0)} ${beyond.unit === '%' ? '%' : '°'}.`,
      events: [
        {
          input: from.input,
          from: peak.from,
          to: peak.from + HELD,
          severity,
          peak: { value: peak.value, unit: UNIT[way] },
          engineSpeed: { value: peak.rpm, unit: 'rpm' },
        },
      ],
      causes: [
        'injectors too small for the power that the map asks for',
        'fuel pressure too low, so that they must open longer',
        'clogged injectors',
        'fuel with much ethanol in an engine sized for petrol',
      ],
      advice: [
        ...(severity === 'repair'
          ? ['No more boost, and no full load, until it is settled: there is no fuel left to give.']
          : []),
        'Look at lambda against target in the same pull: rising at the top means the end was reached.',
        'Record feed and rail pressure against target; a pressure that falls makes openings longer.',
        'Flow test of the injectors, then larger ones with a map that knows them.',
      ],
    };
  }
  const watch = limitOf(limits, 'watch', way);
  if (!seen.some(({ top }) => top > 0))
    return {
      ...base,
      outcome: 'unproven',
      summary: `At most ${told(lead!)}, but the engine was not taken to full load at high speed.`,
      missing: { channels: [], conditions: [CONDITION] },
    };
  if (from.hz < 0.95 * RATE)
    return {
      ...base,
      outcome: 'unproven',
      summary: `Injection time is recorded ${from.hz.toPrecision(2)} times a second: the end of a pull would not be seen.`,
      missing: { channels: [], conditions: ['injectionTime at >= 4 Hz'] },
    };
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({ ...support, margin: watch.value - peak.value, doubts: [kind === undefined ? 0.9 : 1] }),
    summary: `Injectors are open for at most ${told(lead!)}; watch beyond ${figure(watch.value, 0)} ${watch.unit === '%' ? '%' : '°'}${peak.value > watch.value ? ', near the limit' : ''}.`,
  };
}
