import type { Lag } from '../../derived/aligned.js';
import { exceeds, uncertaintyOf } from '../../derived/exceeds.js';
import { madn } from '../../math/madn.js';
import type { Certainty, Channel } from '../../recording/recording.js';
import type { Limit, Severity } from '../rule.js';
import type { FullLoad } from './lambda-load-rows.js';
import type { Tail } from './lambda-load-tail.js';

/** Half-width of what a wide-band sensor scatters near lambda 0.9. Common practice, no source. */
const TOLERANCE = 0.005;
/** The target may move this much while exhaust and sensor follow; more is no still target. The rule's own. */
const STILL = 0.04;
/** Beside the lag, this long (s) the target has to be still. */
const STILL_FOR = 0.5;
/** Where the lag cannot be measured: typical exhaust travel and sensor of a wide-band sensor, s. Common practice, no source. */
const ASSUMED: Pick<Lag, 'seconds' | 'uncertainty'> = { seconds: 0.3, uncertainty: 0.2 };
/** Valves that overlap under boost let fresh air into the exhaust below this speed (rpm): the sensor reads lean. Common practice, no source. */
const SCAVENGES_BELOW = 2500;
const FRESH = 3;
/** How long (s) each kind of event has to last. */
const LASTS = { repair: 0.5, stop: 0.3, lean: 0.3, rich: 0.5, untargeted: 1 } as const;
export type Kind = keyof typeof LASTS;
/** Without a target: lambda this near to 1 is a calibration for lambda 1 or waits for protection, below `enriched` it is enriched. */
const LAMBDA_ONE = { low: 0.98, high: 1.02 };
/** Falling faster than this over half a second: enrichment is just setting in. */
const ENRICHING = 0.02;

export interface MixtureEvent {
  readonly kind: Kind;
  readonly severity: Severity;
  readonly from: number;
  readonly to: number;
  /** Leanest (for `rich`: richest) lambda in it, target and engine speed there; NaN when not recorded. */
  readonly lambda: number;
  readonly target: number;
  readonly rpm: number;
  readonly samples: number;
}

export interface MixtureReading {
  readonly id: string;
  readonly certainty: Certainty;
  readonly hz: number;
  readonly uncertainty: number;
  /** Time (s) in which the sensor rises to air in fuel cuts; NaN when not seen. */
  readonly rise: number;
  /** Measured lag behind the target, s; NaN when it had to be assumed or there is no target. */
  readonly lag: number;
  readonly targeted: boolean;
  readonly events: readonly MixtureEvent[];
  /** Seconds and fresh samples at full load that could be judged. */
  readonly seconds: number;
  readonly samples: number;
  /** Largest excess over the target that lasted for `LASTS.repair`; NaN when not seen. */
  readonly excess: number;
  /** Median and leanest lambda at full load. */
  readonly median: number;
  readonly leanest: number;
  /** A sample was beyond a limit, but for too short a time or with too few samples. */
  readonly undecided: boolean;
  /** Without a target: seconds enriched, and near lambda 1. */
  readonly enriched: number;
  readonly atOne: number;
}

export interface MixtureParts {
  readonly channel: Channel;
  readonly fresh: Int32Array;
  readonly hz: number;
  /** Held values of the target; undefined without one. */
  readonly target: Float64Array | undefined;
  readonly lag: Lag | undefined;
  readonly rpm: Float64Array | undefined;
  /** Boost over barometric pressure, kPa; undefined when not recorded. */
  readonly boost: Float64Array | undefined;
  readonly full: FullLoad;
  readonly tail: Tail;
  readonly time: Float64Array;
}

interface Run {
  from: number;
  to: number;
  samples: number;
  lambda: number;
  target: number;
  rpm: number;
}

/** One sensor against its target, sample by sample, at full load. */
export function mixtureReading(parts: MixtureParts, limits: Readonly<Record<string, Limit>>): MixtureReading {
  const { channel, fresh, hz, target, rpm, boost, full, time } = parts;
  const lag = parts.lag ?? ASSUMED;
  const late = Math.max(0, lag.seconds);
  const window = late + 2 * lag.uncertainty + STILL_FOR;
  const base = uncertaintyOf(channel, { tolerance: TOLERANCE, noise: noiseOf(channel.values, fresh, full.mask) });
  const runs = Object.fromEntries((Object.keys(LASTS) as Kind[]).map((kind) => [kind, openRun()])) as Record<Kind, Run>;
  const events: MixtureEvent[] = [];
  const recent: { at: number; excess: number }[] = [];
  const seen: number[] = [];
  const before: { at: number; lambda: number }[] = [];
  let undecided = false;
  let excess = Number.NaN;
  let leanest = Number.NaN;
  let enriched = 0;
  let atOne = 0;
  let stretch = 0;
  let enrichedInStretch = 0;
  let windowStart = 0;
  let alignedRow = 0;
  const severityOf: Record<Kind, Severity> = {
    repair: 'repair',
    stop: 'stop',
    lean: 'stop',
    rich: 'watch',
    untargeted: 'watch',
  };
  const finish = (kind: Kind): void => {
    const run = runs[kind];
    if (run.samples === 0) return;
    const duration = run.to - run.from + 1 / hz;
    if (run.samples >= FRESH && duration >= LASTS[kind] - 1e-6) {
      const { from, to, lambda, target: wanted, rpm: speed, samples } = run;
      events.push({ kind, severity: severityOf[kind], from, to, lambda, target: wanted, rpm: speed, samples });
    } else if (run.samples < FRESH && hz * LASTS[kind] < 0.95 * FRESH) undecided = true;
    run.samples = 0;
  };
  const finishAll = (): void => {
    for (const kind of Object.keys(LASTS) as Kind[]) finish(kind);
    recent.length = 0;
  };
  for (let k = 0; k < fresh.length; k++) {
    const i = fresh[k]!;
    const t = time[i]!;
    if (full.mask[i] === 0 || parts.tail.mask[i] === 1) {
      finishAll();
      continue;
    }
    const lambda = channel.values[i]!;
    if (full.stretch[i] !== stretch) {
      finishAll();
      stretch = full.stretch[i]!;
      enrichedInStretch = 0;
      before.length = 0;
    }
    const n = rpm === undefined ? Number.NaN : rpm[i]!;
    const pushes = boost === undefined || !(boost[i]! < 20);
    const scavenges = n < SCAVENGES_BELOW && pushes;
    let wanted = Number.NaN;
    let u = base;
    if (target !== undefined) {
      while (windowStart < i && time[windowStart]! < t - window - 1e-9) windowStart++;
      while (alignedRow < i && time[alignedRow + 1]! <= t - late + 1e-9) alignedRow++;
      let low = Number.POSITIVE_INFINITY;
      let high = Number.NEGATIVE_INFINITY;
      for (let r = windowStart; r <= i; r++) {
        const x = target[r]!;
        if (x < low) low = x;
        if (x > high) high = x;
      }
      wanted = target[alignedRow]!;
      if (!(high - low <= STILL) || Number.isNaN(wanted)) {
        finishAll();
        continue;
      }
      u = Math.hypot(base, (lag.uncertainty * (high - low)) / window);
    }
    before.push({ at: t, lambda });
    while (before.length > 1 && t - before[1]!.at >= 0.5 - 1e-9) before.shift();
    seen.push(lambda);
    if (!(leanest >= lambda)) leanest = lambda;
    const beyond = (value: number, { value: limit, comparison }: Limit): boolean =>
      exceeds(value, u, limit, comparison) === 'beyond';
    const step = (kind: Kind, holds: boolean): void => {
      const run = runs[kind];
      const gap = run.samples > 0 && t - run.to > Math.max(3 / hz, 0.5);
      if (!holds || gap) finish(kind);
      if (!holds) return;
      if (run.samples === 0) Object.assign(run, { from: t, lambda: Number.NaN });
      run.samples++;
      run.to = t;
      if (kind === 'rich' ? !(run.lambda <= lambda) : !(run.lambda >= lambda)) {
        Object.assign(run, { lambda, target: wanted, rpm: n });
      }
    };
    step('rich', beyond(lambda, limits['rich-watch']!));
    if (target !== undefined) {
      const over = lambda - wanted;
      step('repair', !scavenges && beyond(over, limits.repair!));
      step('stop', !scavenges && beyond(over, limits.stop!));
      step('lean', !scavenges && wanted < limits['lean-target']!.value && beyond(lambda, limits['lean-stop']!));
      if (scavenges) continue;
      recent.push({ at: t, excess: over });
      while (recent.length > FRESH && t - recent[1]!.at + 1 / hz >= LASTS.repair - 1e-6) recent.shift();
      if (recent.length < FRESH || t - recent[0]!.at + 1 / hz < LASTS.repair - 1e-6) continue;
      let least = Number.POSITIVE_INFINITY;
      for (const each of recent) if (each.excess < least) least = each.excess;
      if (!(excess >= least)) excess = least;
      continue;
    }
    const limit = limits['untargeted-watch']!;
    if (lambda <= limit.value) {
      enriched += 1 / hz;
      enrichedInStretch += 1 / hz;
    } else if (lambda >= LAMBDA_ONE.low && lambda <= LAMBDA_ONE.high) atOne += 1 / hz;
    const high =
      n > limits['untargeted-speed']!.value && (boost === undefined || boost[i]! > limits['untargeted-boost']!.value);
    const one = lambda >= LAMBDA_ONE.low && lambda <= LAMBDA_ONE.high && enrichedInStretch < 0.3;
    const settingIn = before[0]!.lambda - lambda > ENRICHING;
    step('untargeted', high && !one && !settingIn && beyond(lambda, limit));
  }
  finishAll();
  events.sort((a, b) => a.from - b.from);
  return {
    id: channel.id,
    certainty: channel.certainty,
    hz,
    uncertainty: base,
    rise: parts.tail.rise,
    lag: parts.lag?.seconds ?? Number.NaN,
    targeted: target !== undefined,
    events,
    seconds: seen.length / hz,
    samples: seen.length,
    excess,
    median: middle(seen),
    leanest,
    undecided: undecided && events.length === 0,
    enriched,
    atOne,
  };
}

function openRun(): Run {
  return { from: 0, to: 0, samples: 0, lambda: Number.NaN, target: Number.NaN, rpm: Number.NaN };
}

/** Scatter of neighbouring fresh samples at full load: second differences, so that a ramp is no noise. */
function noiseOf(values: Float64Array, fresh: Int32Array, mask: Uint8Array): number {
  const found: number[] = [];
  for (let k = 2; k < fresh.length && found.length < 4096; k++) {
    if (mask[fresh[k]!] === 1 && mask[fresh[k - 2]!] === 1) {
      found.push(values[fresh[k]!]! - 2 * values[fresh[k - 1]!]! + values[fresh[k - 2]!]!);
    }
  }
  return found.length < 5 ? 0 : Math.min(0.02, madn(found) / Math.sqrt(6));
}

function middle(values: readonly number[]): number {
  if (values.length === 0) return Number.NaN;
  return [...values].sort((a, b) => a - b)[values.length >> 1]!;
}
