import { median } from '../math/quantile.js';
import type { Channel } from '../recording/recording.js';
import { OIL_HOT } from './oil-hot.js';
import { isRefusal, recipe, refuse } from './recipe.js';
import { freshIndices, freshRate, heldValues } from './refresh.js';
import { samplesOf } from './samples.js';

/** A gauge reads 0 at rest; barometric pressure there means absolute values (bar, sea level to about 1500 m). */
const ABSOLUTE = { low: 0.82, high: 1.1 };
const AT_ZERO = 0.3;

export interface Zero {
  readonly kind: 'gauge' | 'absolute' | 'odd' | 'unchecked';
  /** Reading with the engine at rest, bar; NaN when it was never at rest. */
  readonly rest: number;
}

/** What the sensor reads with the engine at rest for 2 s and more: tells gauge from absolute. */
function zeroOf(pressure: Float64Array, fresh: Int32Array, rpm: Float64Array, time: Float64Array): Zero {
  const found: number[] = [];
  let turned = Number.NEGATIVE_INFINITY;
  let next = 0;
  for (let i = 0; i < time.length; i++) {
    if (!(rpm[i]! < 50)) turned = time[i]!;
    if (next < fresh.length && fresh[next] === i) {
      next++;
      if (time[i]! - turned >= 2 || (turned === Number.NEGATIVE_INFINITY && rpm[i]! < 50)) found.push(pressure[i]!);
    }
  }
  if (found.length < 2) return { kind: 'unchecked', rest: Number.NaN };
  const rest = median(found);
  if (rest >= ABSOLUTE.low && rest <= ABSOLUTE.high) return { kind: 'absolute', rest };
  return { kind: Math.abs(rest) <= AT_ZERO ? 'gauge' : 'odd', rest };
}

/** Engine oil pressure over ambient, with all that judging it takes. */
export interface OilPressure {
  readonly channel: Channel;
  readonly speedChannel: Channel;
  /** Fresh values per second, and the rows that hold them. */
  readonly hz: number;
  readonly fresh: Int32Array;
  /** rpm, held over empty cells. */
  readonly rpm: Float64Array;
  /** bar, gauge. */
  readonly pressure: Float64Array;
  readonly zero: Zero;
  /** bar, standard uncertainty of the zero. */
  readonly zeroError: number;
  /** 1 where the oil is hot; 0 throughout where that cannot be told. */
  readonly hot: Uint8Array;
  /** What showed that the oil was hot; undefined when nothing could. */
  readonly hotBy: string | undefined;
  /** The oil temperature itself showed it. */
  readonly measured: boolean;
  /** Channels that would have shown it. */
  readonly refused: readonly string[];
}

export const OIL_PRESSURE = recipe<OilPressure>({
  id: 'oilPressure',
  about:
    'Engine oil pressure (bar, gauge): a sensor that reads barometric pressure with the engine at rest is absolute, and that reading is taken off; one that never moves while the engine speed does is refused.',
  compute(drive) {
    const channel = drive.channel('engineOilPressure');
    const speedChannel = drive.channel('engineSpeed');
    if (channel === undefined || speedChannel === undefined)
      return refuse(
        `no oil pressure, because ${channel === undefined ? 'engineOilPressure' : 'engineSpeed'} is absent`,
        {
          channels: [channel === undefined ? 'engineOilPressure' : 'engineSpeed'],
        },
      );
    const rpm = heldValues(speedChannel.values, drive.time);
    const rowHz = 1 / samplesOf(drive).spacing;
    const known = freshRate(channel).hz;
    const hz = known > 0 ? Math.min(known, rowHz) : rowHz;
    const fresh = freshIndices(channel.values, drive.time, hz);
    if (fresh.length < 3)
      return refuse('engine oil pressure holds no usable samples', { channels: ['engineOilPressure'] });
    if (channel.quality.constant && !speedChannel.quality.constant)
      return refuse('the engine oil pressure never moves while the engine speed does: the sensor is not believed', {
        channels: ['engineOilPressure'],
      });
    const zero = zeroOf(channel.values, fresh, rpm, drive.time);
    const offset = zero.kind === 'absolute' ? zero.rest : 0;
    const hot = drive.derive(OIL_HOT);
    return {
      channel,
      speedChannel,
      hz,
      fresh,
      rpm,
      pressure: offset === 0 ? channel.values : channel.values.map((p) => p - offset),
      zero,
      // What a gauge reads at rest is an error of its zero; 0.01 bar is left of a barometric pressure that was taken off.
      zeroError: zero.kind === 'gauge' ? Math.abs(zero.rest) / Math.sqrt(3) : 0.01,
      hot: isRefusal(hot) ? new Uint8Array(drive.time.length) : hot.mask,
      hotBy: isRefusal(hot) ? undefined : hot.source,
      measured: !isRefusal(hot) && hot.measured,
      refused: isRefusal(hot) ? hot.missing.channels : [],
    };
  },
});
