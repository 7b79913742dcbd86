import { OVERRUN_MASK } from '../../derived/fuel-cut.js';
import { rowsAtOrAfter } from '../../derived/intervals.js';
import { isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { heldValues } from '../../derived/refresh.js';
import { SPEED } from '../../derived/speed.js';
import { WARM_UPS, type WarmUp } from '../../derived/warm-up.js';
import { valuesAt } from '../../math/gather.js';
import { median } from '../../math/quantile.js';
import { defineRule, type LimitDefinition } from '../rule.js';
import { storedPeakOf } from '../stored-temperature.js';
import type { CoolingObservation } from './cooling-judgement.js';
import { coolantSeries, heatReading } from './cooling-reading.js';
import { type CoolingRecord, judgeCooling } from './cooling-stored.js';
import { thermostatReading, WARM_FROM } from './cooling-thermostat.js';

const CP = 'common practice, no source';
const CCR = 'from memory: 13 CCR 1968.2(e)(10), thermostat temperature less 11 K (20 degF)';

const limit = (
  name: string,
  value: number,
  unit: string,
  comparison: LimitDefinition['comparison'],
  source: string,
  about: string,
): LimitDefinition => ({ name, value, unit, comparison, source, about });

export const cooling = defineRule({
  id: 'engine.cooling',
  system: 'engine',
  question: 'Does the engine overheat, or never get warm?',
  why: 'A few minutes of overheating warp a cylinder head; an engine that never gets warm wears, thins its oil and drinks.',
  weight: 3,
  slow: true,
  needs: {
    channels: ['coolantTemperature'],
    optional: ['engineSpeed', 'ambientTemperature', 'intakeAirTemperature', 'coolantTemperatureMaximum'],
    derived: [SPEED, WARM_UPS, OVERRUN_MASK],
    conditions: [`coolant >= ${WARM_FROM} degC for >= 300 s with the engine running, 120 s of it at >= 20 km/h`],
  },
  readOuts: true,
  limits: [
    limit('watch', 112, 'degC', '>', CP, 'coolant for 30 s'),
    limit('repair', 117, 'degC', '>', CP, 'coolant'),
    limit('stop', 122, 'degC', '>', CP, 'coolant'),
    limit('rising-from', 110, 'degC', '>', CP, 'coolant above which a fast rise alone is a stop'),
    limit('rising', 5, 'K', '>', CP, 'rise of hot coolant per 10 s (0.5 K/s): stop'),
    limit('falls-watch', 8, 'K', '>', CP, 'fall below its own level at 80 to 120 km/h: thermostat'),
    limit(
      'never-warm',
      71,
      'degC',
      '<',
      `${CCR}; for the lowest usual thermostat of 82 degC`,
      'highest coolant, or else highest level on the road, or a level that it stays below for 60 s of driving without rising, after 600 s of running, 300 s of it moving',
    ),
  ],
  method:
    'Coolant with the engine running is cleared of range ends, leaps and spikes; half a minute after a start is left out, as the heat of the block soaks in. The lowest limit has to hold for half a minute, the higher ones for two seconds and three fresh samples, each by the lower 95 % bound; a fast rise of coolant that is hot already is a stop by itself. Overheating is sorted by road speed: standing points to the fan, wind to the flow. The thermostat is judged by the level that the coolant settles at on the road against its own level in town, and by whether a long enough drive gets it warm at all, and keeps it so. A highest temperature that the control unit has stored counts one step less than one that was seen, and only beyond the limits that need no half minute.',
  decoys: [
    'mapped thermostats that hold 105 to 110 degC at light load: below the limits; that they go down to 85 to 90 degC is their map, told by both levels',
    'winter: a short drive in the cold is unproven, not a fault; a warm-up that is still rising is left open, and below -10 degC outside it is not judged',
    'a long descent in overrun cools a sound engine, and so does its heater in frost: minutes with more than half of overrun, or below 0 degC outside, tell nothing of a level that is not held; an engine that was off for five minutes warms up anew',
    'standing in traffic lifts the coolant to the fan level: the own level is the lower quartile of moving in town',
    'heat soak after a stop: engine off and the first half minute after a start do not count',
    'range ends (-40, 215 degC), spikes and loose connectors: taken out; a stored peak below the repair limit may be heat soak',
    'a column in degF: converted when the file is read',
  ],
  cautions: [
    'Never open a hot cooling system: it scalds. Let it cool down first.',
    'Above the stop limit: stop where it is safe and switch off.',
  ],
  proves:
    'From cold, drive a quarter of an hour with some town, some minutes at 80 to 120 km/h and a few minutes of standing with the engine running; record coolant temperature at 1 Hz and vehicle speed.',
  observe(view, context): CoolingRecord | Refusal {
    const stored = storedPeakOf(view.optional('coolantTemperatureMaximum'));
    const kept = stored === undefined ? {} : { stored };
    const channel = view.optional('coolantTemperature') ?? view.family('coolantTemperature')[0];
    const engine = view.optional('engineSpeed');
    const rpm = engine === undefined ? undefined : heldValues(engine.values, view.time);
    const series = channel === undefined ? undefined : coolantSeries(channel, rpm, view.time);
    if (channel === undefined || series === undefined) {
      if (stored !== undefined) return kept;
      return refuse('the coolant temperature holds no usable samples with the engine running', {
        channels: ['coolantTemperature'],
      });
    }
    const speed = view.derive(SPEED);
    const rows = rowsAtOrAfter(view.time, series.time);
    const at = isRefusal(speed) ? undefined : valuesAt(speed.values, rows);
    const overrun = view.derive(OVERRUN_MASK);
    const outside = view.optional('ambientTemperature') ?? view.optional('intakeAirTemperature');
    const warmUps = view.derive(WARM_UPS);
    const { series: _, ...heat } = heatReading(channel, series, at, context.limits());
    const seen: CoolingObservation = {
      certainties: [channel.certainty],
      heat,
      hz: series.hz,
      thermostat: thermostatReading(
        series,
        at,
        outside === undefined ? Number.NaN : median(outside.values),
        isRefusal(overrun) ? undefined : marksAt(overrun, rows),
      ),
      speedKnown: !isRefusal(speed),
      warmUps: isRefusal(warmUps) ? [] : Object.entries(warmUps).flatMap(([fluid, each]) => timeConstant(fluid, each)),
      constant: channel.quality.constant,
    };
    return { seen, ...kept };
  },
  judge: judgeCooling,
});

/** Marks of ascending rows; the same array when they are all of them. */
function marksAt(mask: Uint8Array, rows: Int32Array): Uint8Array {
  if (rows.length === mask.length) return mask;
  const marks = new Uint8Array(rows.length);
  for (let i = 0; i < marks.length; i++) marks[i] = mask[rows[i]!]!;
  return marks;
}

/** Told only where the recording tells it from no exchange at all. */
function timeConstant(fluid: string, found: WarmUp | Refusal): CoolingObservation['warmUps'] {
  if (isRefusal(found) || !(found.rate > 1.96 * found.rateU)) return [];
  return [{ fluid, seconds: found.tau, relative: found.rateU / found.rate }];
}
