import { AMBIENT } from '../derived/ambient.js';
import { BOOST_PAIR } from '../derived/boost-pair.js';
import { clippedRows } from '../derived/clipped.js';
import { uncertaintyOf } from '../derived/exceeds.js';
import { PEDAL_RELATIVE } from '../derived/pedal-relative.js';
import { type Drive, isRefusal, type Refusal, refuse } from '../derived/recipe.js';
import { samplesOf } from '../derived/samples.js';
import { PULLS } from '../derived/segments.js';
import { FLOOR, THROTTLE_FULL } from '../derived/throttle-full.js';
import { windowRange } from '../math/window-range.js';
import type { Channel } from '../recording/recording.js';
import { memberOf, type Quantity, type RowSignal } from './signal.js';

/** A target is boost from here over the barometer, kPa. */
const BOOSTED = 10;
/** kPa under the target at which boost has been built up. */
const ARRIVED = 10;
/** Points of throttle under its own full load from which boost is held back on purpose. */
const CLOSED = 10;

export const BOOST_ERROR: Quantity = {
  id: 'boostError',
  unit: 'kPa',
  about:
    'charge pressure less its target at the same place, from where boost has been built up to 10 kPa under it, and where the throttle does not hold it back',
  read(drive) {
    const pair = drive.derive(BOOST_PAIR);
    if (isRefusal(pair)) return pair;
    const throttle = drive.derive(THROTTLE_FULL);
    const pulls = drive.derive(PULLS);
    if (isRefusal(pulls)) return pulls;
    const values = new Float64Array(drive.time.length).fill(Number.NaN);
    for (const { start, end } of pulls) {
      let arrived = false;
      for (let i = start; i <= end; i++) {
        if (!(pair.target[i]! - pair.barometer >= BOOSTED)) continue;
        const error = pair.actual[i]! - pair.target[i]!;
        arrived ||= error >= -ARRIVED;
        if (!arrived || (!isRefusal(throttle) && throttle.values[i]! < throttle.level - CLOSED)) continue;
        values[i] = error;
      }
    }
    return [{ member: '', values, u: pair.u, hz: pair.hz }];
  },
};

export const COMPRESSOR_RATIO: Quantity = {
  id: 'compressorRatio',
  unit: '1',
  about: 'charge pressure over the pressure before the compressor, the barometer where that is not recorded',
  read(drive) {
    const found = pressureOf(drive);
    if (isRefusal(found)) return found;
    const ambient = drive.derive(AMBIENT);
    if (isRefusal(ambient)) return ambient;
    const inlet = samplesOf(drive).held('compressorInletPressure');
    return found.map(({ values, u, ...rest }) => ({
      ...rest,
      u: Math.hypot(u, 1.5 * ambient.pressureU) / ambient.pressure,
      values: values.map((p, i) => p / (inlet?.[i] ?? ambient.pressure)),
    }));
  },
};

export const CHARGE_TEMPERATURE: Quantity = {
  id: 'chargeTemperature',
  unit: 'degC',
  about: 'charge air behind the cooler, else intake air',
  read: (drive) => temperature(drive, ['chargeAirTemperature', 'intakeAirTemperature'], 1),
};

export const COMPRESSOR_OUTLET: Quantity = {
  id: 'compressorOutlet',
  unit: 'degC',
  about: 'air behind the compressor, before the cooler',
  read: (drive) => temperature(drive, ['compressorOutletTemperature'], 3),
};

export const THROTTLE_DEFICIT: Quantity = {
  id: 'throttleDeficit',
  unit: '%',
  about:
    'points by which the throttle stands below its own reading at full load (95th percentile), from one second after the pedal was floored',
  read(drive) {
    const full = drive.derive(THROTTLE_FULL);
    if (isRefusal(full)) return full;
    const channel = drive.channel(full.source);
    const asked = fullPedalFor(drive, 1);
    return [
      {
        member: '',
        values: full.values.map((x, i) => (asked[i] === 1 ? full.level - x : Number.NaN)),
        u: channel === undefined ? 0.5 : uncertaintyOf(channel),
        hz: samplesOf(drive).hz(full.source),
      },
    ];
  },
};

/** Points of travel by which a foot that is not lifting moves within a second. */
const RESTS = 2;

/**
 * 1 where the pedal has been on the floor for `seconds` and is not being lifted, which closes a throttle by itself; 1
 * throughout where no pedal is told.
 */
export function fullPedalFor(drive: Drive, seconds: number): Uint8Array {
  const pedal = drive.derive(PEDAL_RELATIVE);
  const mask = new Uint8Array(drive.time.length).fill(1);
  if (isRefusal(pedal)) return mask;
  const moved = windowRange(pedal.values, drive.time, 1);
  let since = Number.POSITIVE_INFINITY;
  for (let i = 0; i < mask.length; i++) {
    // An empty cell neither presses nor lifts.
    if (pedal.values[i]! < FLOOR) since = Number.POSITIVE_INFINITY;
    else if (pedal.values[i]! >= FLOOR && since === Number.POSITIVE_INFINITY) since = drive.time[i]!;
    mask[i] = drive.time[i]! - since >= seconds && moved[i]! <= RESTS ? 1 : 0;
  }
  return mask;
}

function pressureOf(drive: Drive): RowSignal[] | Refusal {
  for (const base of ['boostPressure', 'manifoldPressure']) {
    const channel = live(drive, base)[0];
    if (channel === undefined) continue;
    const values = samplesOf(drive).held(channel.id)!;
    return [
      {
        member: '',
        values,
        u: uncertaintyOf(channel, { tolerance: 2 }),
        hz: samplesOf(drive).hz(channel.id),
        clipped: clippedRows(channel, values, drive.time),
      },
    ];
  }
  return refuse('no charge pressure, because boostPressure and manifoldPressure are absent', {
    channels: ['boostPressure'],
  });
}

/** First family of `bases` that is recorded. @param tolerance half-width, K */
export function temperature(drive: Drive, bases: readonly string[], tolerance: number): RowSignal[] | Refusal {
  for (const base of bases) {
    const found = live(drive, base);
    if (found.length > 0) return found.map((channel) => rowsOf(drive, channel, tolerance));
  }
  return refuse(`no such temperature, because ${bases.join(' and ')} is absent`, { channels: bases.slice(0, 1) });
}

/** A channel as it was recorded. */
export function rowsOf(drive: Drive, channel: Channel, tolerance: number): RowSignal {
  const values = samplesOf(drive).held(channel.id)!;
  return {
    member: memberOf(channel.id),
    values,
    u: uncertaintyOf(channel, { tolerance }),
    hz: samplesOf(drive).hz(channel.id),
    clipped: clippedRows(channel, values, drive.time),
  };
}

export function live(drive: Drive, base: string): readonly Channel[] {
  return drive.family(base).filter(({ quality }) => quality.samples > 2);
}
