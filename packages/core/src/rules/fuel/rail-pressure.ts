import { AMBIENT } from '../../derived/ambient.js';
import { FUEL_CUT } from '../../derived/fuel-cut.js';
import { firstAtOrAfter, maskOf, widened } from '../../derived/intervals.js';
import { LAMBDA_LAGS } from '../../derived/lambda-lag.js';
import { LOAD_FRACTION } from '../../derived/load-fraction.js';
import { isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { SAMPLES } from '../../derived/samples.js';
import { PULLS } from '../../derived/segments.js';
import { median } from '../../math/quantile.js';
import { defineRule, type LimitDefinition } from '../rule.js';
import { judgeRailPressure, type RailObservation } from './rail-pressure-judgement.js';
import { leanWhileLow } from './rail-pressure-mixture.js';
import { type Side, sideReading } from './rail-pressure-reading.js';

const CP = 'common practice, no source';
/** Engine at work: rpm, and seconds after a fuel cut in which the pressure settles. */
const RUNNING = 600;
const AFTER_CUT = 1;

const limit = (name: string, value: number, source: string, about: string): LimitDefinition => ({
  name,
  value,
  unit: name === 'lean' ? '1' : '%',
  comparison: '>',
  source,
  about,
});

export const railPressure = defineRule({
  id: 'fuel.rail-pressure',
  system: 'fuel',
  question: 'Does the fuel pressure hold?',
  why: 'A pump at its end lets pressure fall exactly when the engine needs most fuel; which of the two falls first names the pump.',
  weight: 3,
  needs: {
    channels: ['engineSpeed'],
    optional: [
      'fuelRailPressure',
      'fuelRailPressureTarget',
      'fuelFeedPressure',
      'fuelFeedPressureTarget',
      'lambda',
      'lambdaTarget',
      'manifoldPressure',
      'barometricPressure',
    ],
    derived: [SAMPLES, FUEL_CUT, PULLS, LOAD_FRACTION, AMBIENT, LAMBDA_LAGS],
    conditions: ['full-load pull of >= 3 s, where lawful and safe', 'fuelRailPressure at >= 6 Hz'],
  },
  limits: [
    limit('below-watch', 8, CP, 'pressure below a still target for half a second, share of the target'),
    limit(
      'below-repair',
      15,
      'common practice, no source (direct injection: within +-10 % at load, act from 15 to 20 %)',
      'pressure below a still target for half a second, share of the target; with lean mixture at load: stop',
    ),
    limit('above-watch', 10, CP, 'pressure above a still target for half a second, share of the target'),
    limit(
      'lean',
      0.05,
      CP,
      'lambda over its target for half a second in the same stretch of full load, while the pressure is low, which makes it a stop',
    ),
  ],
  method:
    'Rail pressure, and feed pressure where it is recorded, against their targets wherever the target has been still for 0.3 s, with the engine running and no fuel cut; the deviation that lasted half a second counts, by its lower 95 % bound. The mixture is looked up in the same stretch of full load while the pressure is low, moved by the measured delay of the sensor (else 0.3 s): pressure is lowest where most fuel is drawn, lambda climbs when the injection time cannot make up for it. Whether the feed had fallen before the rail names the pump. A feed without target is only compared with its own level at cruise. Clear takes two seconds of full load.',
  decoys: [
    'targets that step or ramp: not judged until they rest',
    'fuel cuts, start: left out',
    'units: a pressure that is a multiple of its target throughout is refused, not judged',
    'gauge beside absolute: a difference of one atmosphere throughout is taken out',
    'regulators that work against the manifold: a difference that follows boost one to one is taken out',
  ],
  cautions: [
    'High-pressure fuel injects through skin: the system is opened only depressurised, by a qualified technician.',
    'Full load only on a closed course or where the law allows it; break the pull off when lambda runs lean.',
  ],
  proves:
    'One or two full-load pulls of at least three seconds, with rail pressure, feed pressure, the targets of both, lambda and its target at 10 Hz.',
  observe(view, context): RailObservation | Refusal {
    const samples = view.derive(SAMPLES);
    if (isRefusal(samples)) return samples;
    const { time } = view;
    const rpm = samples.held('engineSpeed')!;
    const cut = view.derive(FUEL_CUT);
    const use = new Uint8Array(time.length);
    for (let i = 0; i < use.length; i++) if (rpm[i]! >= RUNNING) use[i] = 1;
    if (!isRefusal(cut))
      for (const { start, end } of widened(cut.segments, time, 0.2, AFTER_CUT)) use.fill(0, start, end + 1);
    // Pumps need a moment after the start.
    for (let i = 1; i < use.length; i++)
      if (rpm[i]! >= RUNNING && rpm[i - 1]! < 200) use.fill(0, i, firstAtOrAfter(time, time[i]! + 3));
    const pulls = view.derive(PULLS);
    const load = view.derive(LOAD_FRACTION);
    const full = isRefusal(pulls) ? new Uint8Array(time.length) : maskOf(pulls, time.length);
    if (!isRefusal(load)) for (let i = 0; i < full.length; i++) if (load.high[i] === 1) full[i] = 1;
    const ambient = view.derive(AMBIENT);
    const pair = (side: Side) => {
      const [id, targetId] =
        side === 'rail'
          ? (['fuelRailPressure', 'fuelRailPressureTarget'] as const)
          : (['fuelFeedPressure', 'fuelFeedPressureTarget'] as const);
      const actual = view.optional(id);
      const target = view.optional(targetId);
      if (actual === undefined || target === undefined || actual.quality.constant || target.quality.samples < 3)
        return undefined;
      return sideReading({
        side,
        actual,
        target,
        samples,
        time,
        use,
        full,
        manifold: samples.held('manifoldPressure'),
        ambient: isRefusal(ambient) ? undefined : ambient,
      });
    };
    const sides = [pair('rail'), pair('feed')].filter((each) => each !== undefined);
    if (sides.length === 0)
      return refuse(
        'pressure cannot be compared with a target: rail pressure or its target is absent, or never moves',
        {
          channels: ['fuelRailPressure', 'fuelRailPressureTarget'],
        },
      );
    const limits = context.limits();
    const event = { low: limits['below-watch']!.value / 100, lowest: limits['below-repair']!.value / 100 };
    const mixture = {
      lambdas: view.family('lambda'),
      targets: view.family('lambdaTarget'),
      lags: view.derive(LAMBDA_LAGS),
      samples,
      time,
      full,
    };
    const [first] = sides;
    const rail = sides.find(({ side }) => side === 'rail');
    const feed = view.optional('fuelFeedPressure');
    return {
      sides,
      lean: sides.map(({ error }) => leanWhileLow(mixture, error, event)),
      feedBefore:
        rail?.below === undefined
          ? Number.NaN
          : feedBefore(
              feed === undefined ? undefined : samples.held(feed.id),
              sides.find(({ side }) => side === 'feed')?.error,
              rail.below.index,
              time,
              (i) => use[i] === 1 && full[i] === 0,
            ),
      fullLoad: first === undefined ? 0 : Math.max(...sides.map(({ loaded }) => loaded)),
      injection: view.vehicle.engine.injection,
    };
  },
  judge: judgeRailPressure,
});

/** How far (share) the feed was down when the rail fell: by its target, else by its own level away from full load; NaN when unknown. */
function feedBefore(
  feed: Float64Array | undefined,
  error: Float64Array | undefined,
  row: number,
  time: Float64Array,
  light: (i: number) => boolean,
): number {
  const start = firstAtOrAfter(time, time[row]! - 1);
  const lowestOf = (values: Float64Array): number => {
    let lowest = Number.NaN;
    for (let i = start; i <= row; i++) if (values[i]! < lowest || Number.isNaN(lowest)) lowest = values[i]!;
    return lowest;
  };
  if (error !== undefined) return -lowestOf(error);
  if (feed === undefined) return Number.NaN;
  return 1 - lowestOf(feed) / median(feed.filter((p, i) => light(i) && p > 0));
}
