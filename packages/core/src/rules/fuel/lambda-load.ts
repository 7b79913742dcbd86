import { FUEL_CUT } from '../../derived/fuel-cut.js';
import { SHIFTS } from '../../derived/gear-shifts.js';
import { isFrontLambda, LAMBDA_LAGS, targetIdOf } from '../../derived/lambda-lag.js';
import { LOAD_FRACTION } from '../../derived/load-fraction.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import { freshIndices, freshRate, heldValues } from '../../derived/refresh.js';
import { SAMPLES } from '../../derived/samples.js';
import { PULLS } from '../../derived/segments.js';
import { median } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';
import { defineRule, type LimitDefinition } from '../rule.js';
import { judgeLambdaLoad, type LambdaLoadObservation } from './lambda-load-judgement.js';
import { type MixtureReading, mixtureReading } from './lambda-load-reading.js';
import { fullLoadRows } from './lambda-load-rows.js';
import { tailOf } from './lambda-load-tail.js';

const CP = 'common practice, no source';
const limit = (
  name: string,
  value: number,
  unit: string,
  comparison: LimitDefinition['comparison'],
  about: string,
): LimitDefinition => ({ name, value, unit, comparison, source: CP, about });
/** Barometric pressure taken where none is recorded, kPa: ISO 2533 at 300 m. */
const BAROMETER = 97.8;

export const lambdaLoad = defineRule({
  id: 'fuel.lambda-load',
  system: 'fuel',
  question: 'Is the mixture right at full load?',
  why: 'Fuel cools pistons, valves and turbine under boost: a lean second at full load can end an engine without any warning before.',
  weight: 3,
  needs: {
    channels: ['lambda'],
    optional: ['lambdaTarget', 'engineSpeed', 'manifoldPressure', 'boostPressure', 'barometricPressure'],
    derived: [SAMPLES, PULLS, LOAD_FRACTION, SHIFTS, FUEL_CUT, LAMBDA_LAGS],
    conditions: ['full-load pull of >= 3 s above 2500 rpm, where lawful and safe', 'lambda at >= 6 Hz'],
  },
  limits: [
    limit('repair', 0.05, '1', '>', 'lambda above its target for 0.5 s'),
    limit('stop', 0.1, '1', '>', 'lambda above its target for 0.3 s'),
    limit('lean-stop', 1.02, '1', '>', 'lambda for 0.3 s where an enriched mixture is wanted'),
    limit('lean-target', 0.95, '1', '<', 'target that counts as enriched'),
    limit('untargeted-watch', 0.92, '1', '>', 'lambda for 1 s where no target is recorded, if the engine is enriched'),
    limit('untargeted-boost', 100, 'kPa', '>', 'boost over barometric pressure from which that counts'),
    limit('untargeted-speed', 3500, 'rpm', '>', 'engine speed from which that counts'),
    limit('rich-watch', 0.72, '1', '<', 'lambda for 0.5 s: smoke'),
  ],
  method:
    'At full load (pedal or torque near their end) each sensor in front of the catalyst is compared with its target, the target as it was one lag earlier; the lag is measured in the drive. Only a still target counts; shifts, fuel cuts and two seconds after them, the limiter and the first moments of full load are left out. Each limit takes its time and three fresh samples by the lower 95 % bound. Without a target an engine that is enriched elsewhere in its pulls, or is neither enriched nor at lambda 1, is watched under high boost; lambda 1 throughout stays open. Values in air-fuel ratio are divided by the base of the display when the file is read.',
  decoys: [
    'calibrations for lambda 1: the target says so; without a target they are left open, not condemned',
    'protection that enriches only after some seconds: the target shows it; without a target lambda 1 before the first enrichment of a pull does not count',
    'scavenging: below 2500 rpm under boost fresh air passes the cylinder and the sensor reads lean; not judged there',
    'a late sensor: its own lag is measured and taken out, and the target must have been still for longer',
    'a slow sensor on its way back from the air of a fuel cut: left out until it is at rest; a bank whose sensor takes too long to answer is never called right by it',
    'wall film at the onset of load and after a fuel cut: left out',
    'torque cuts in shifts and at the limiter: left out',
    'back-pressure in front of the turbine makes the sensor exaggerate, to the rich side where the mixture is rich: cannot make a lean finding',
    'narrow-band volts: not lambda, refused',
    'air-fuel ratio: converted when the file is read, with the base of the display',
  ],
  cautions: [
    'Full load only on a closed course or where the law allows it, with oil at 80 °C or more; break the pull off at once when lambda runs lean.',
  ],
  proves:
    'One or two full-load pulls of at least three seconds in third gear, with lambda, its target, engine speed, pedal and manifold pressure recorded at 10 Hz.',
  observe(view, context): LambdaLoadObservation | ReturnType<typeof refuse> {
    const { time } = view;
    const sensors = view.family('lambda').filter(isFrontLambda);
    const living = sensors.filter((channel) => !channel.quality.constant && channel.quality.samples >= 3);
    if (living.length === 0) {
      return refuse(
        sensors.length === 0
          ? 'only narrow-band volts or sensors behind the catalyst are recorded'
          : 'lambda never moves: the sensor is not believed',
        { channels: ['lambda'] },
      );
    }
    const pulls = view.derive(PULLS);
    const load = view.derive(LOAD_FRACTION);
    const pullsKnown = !isRefusal(pulls);
    const loadKnown = !isRefusal(load) && load.highComplete;
    if (!pullsKnown && !loadKnown && (isRefusal(load) || !load.high.includes(1))) {
      return refuse(
        `full load cannot be told: ${isRefusal(pulls) ? pulls.reason : ''}`,
        isRefusal(pulls) ? pulls.missing : {},
      );
    }
    const engine = view.optional('engineSpeed');
    const rpm = engine === undefined ? undefined : heldValues(engine.values, time);
    const cut = view.derive(FUEL_CUT);
    const full = fullLoadRows({
      pulls,
      load,
      shifts: view.derive(SHIFTS),
      cut,
      rpm,
      revLimit: context.vehicle.engine.revLimit,
      time,
    });
    const samples = view.derive(SAMPLES);
    const rowHz = isRefusal(samples) ? 1 : 1 / samples.spacing;
    const boost = boostOf(
      view.optional('manifoldPressure') ?? view.optional('boostPressure'),
      view.optional('barometricPressure'),
      time,
    );
    const lags = view.derive(LAMBDA_LAGS);
    const targets = view.family('lambdaTarget').filter((channel) => channel.quality.samples >= 3);
    const named = context.limits();
    const notes: string[] = [];
    const readings = living.map((channel): MixtureReading => {
      const targetId = targetIdOf(channel.id, targets);
      const targetChannel = targets.find(({ id }) => id === targetId);
      const known = freshRate(channel).hz;
      const hz = known > 0 ? Math.min(known, rowHz) : rowHz;
      const lag = isRefusal(lags) ? undefined : lags.get(channel.id);
      const fresh = freshIndices(channel.values, time, hz);
      const parts = {
        channel,
        fresh,
        tail: tailOf(channel.values, fresh, time, isRefusal(cut) ? [] : cut.segments),
        hz,
        // A sensor cannot be ahead of its target: a lean end of a pull can make it look so.
        lag: lag === undefined || isRefusal(lag) || lag.seconds < -0.05 ? undefined : lag,
        rpm,
        boost,
        full,
        time,
      };
      const blind = (): MixtureReading => mixtureReading({ ...parts, target: undefined, lag: undefined }, named);
      if (targetChannel === undefined) return blind();
      if (targetChannel.quality.constant) {
        // A target that never moves while the engine is enriched is not served.
        const without = blind();
        if (without.enriched > 1) {
          notes.push('The lambda target never moves while the mixture does: not used.');
          return without;
        }
      }
      return mixtureReading({ ...parts, target: heldValues(targetChannel.values, time) }, named);
    });
    if (readings.some((r) => r.targeted && Number.isNaN(r.lag))) {
      notes.push(
        'The lag of the lambda sensor could not be measured in this drive: a usual one was taken, with a wider margin.',
      );
    }
    if (readings.some((r) => !r.targeted))
      notes.push('No lambda target recorded: only plainly lean full load under high boost is told.');
    return { readings, fullLoad: full.seconds, boostKnown: boost !== undefined, notes };
  },
  judge: judgeLambdaLoad,
});

/** kPa over barometric pressure, empty cells held; undefined without a pressure. */
function boostOf(
  pressure: Channel | undefined,
  barometer: Channel | undefined,
  time: Float64Array,
): Float64Array | undefined {
  if (pressure === undefined) return undefined;
  const recorded = barometer === undefined ? Number.NaN : median(barometer.values);
  const outside = recorded > 0 ? recorded : BAROMETER;
  return heldValues(pressure.values, time).map((p) => p - outside);
}
