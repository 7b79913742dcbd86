import { uncertaintyOf } from '../derived/exceeds.js';
import { FUEL_CUT } from '../derived/fuel-cut.js';
import { INJECTION } from '../derived/injection.js';
import { widened } from '../derived/intervals.js';
import { isRefusal, refuse } from '../derived/recipe.js';
import { samplesOf } from '../derived/samples.js';
import { injectionAngle, injectorDuty } from '../physics/injection.js';
import type { Quantity, RowSignal } from './signal.js';
import { live, rowsOf } from './signals-air.js';

/** A target that moves by more than this share within {@link STILL_FOR} s cannot be followed at once. */
const STILL = 0.05;
const STILL_FOR = 0.5;
const AFTER_CUT = 1;

/** Pressure missing to its target, %; negative = above it. */
function shortage(id: string, channel: string, about: string): Quantity {
  return {
    id,
    unit: '%',
    about: `${about} below its target, share of the target, while the target rests`,
    read(drive) {
      const actual = live(drive, channel)[0];
      const wanted = live(drive, `${channel}Target`)[0];
      if (actual === undefined || wanted === undefined)
        return refuse(`no ${about} against its target, because one of both is absent`, {
          channels: [...(actual === undefined ? [channel] : []), ...(wanted === undefined ? [`${channel}Target`] : [])],
        });
      const samples = samplesOf(drive);
      const [x, y] = [samples.held(actual.id)!, samples.held(wanted.id)!];
      const values = new Float64Array(x.length).fill(Number.NaN);
      let first = 0;
      for (let i = 0; i < values.length; i++) {
        while (drive.time[i]! - drive.time[first]! > STILL_FOR) first++;
        if (!(y[i]! > 100) || !(Math.abs(y[i]! - y[first]!) <= STILL * y[i]!)) continue;
        values[i] = 100 * (1 - x[i]! / y[i]!);
      }
      const cut = drive.derive(FUEL_CUT);
      if (!isRefusal(cut))
        for (const { start, end } of widened(cut.segments, drive.time, 0, AFTER_CUT))
          values.fill(Number.NaN, start, end + 1);
      const typical = y.find((each) => each > 100) ?? 1000;
      return [
        {
          member: '',
          values,
          u: (100 * Math.hypot(uncertaintyOf(actual), uncertaintyOf(wanted))) / typical,
          hz: samples.hz(actual.id),
        },
      ];
    },
  };
}

export const RAIL_SHORTAGE = shortage('railShortage', 'fuelRailPressure', 'rail pressure');
export const FEED_SHORTAGE = shortage('feedShortage', 'fuelFeedPressure', 'feed pressure');

export const INJECTOR_DUTY: Quantity = {
  id: 'injectorDuty',
  unit: '%',
  about: 'share of the cycle in which a port injector is open: ms x rpm / 1200, else as the source shows it',
  read(drive) {
    const injection = drive.derive(INJECTION);
    if (!isRefusal(injection) && injection.kind === 'port') return [timed(drive, injection, injectorDuty)];
    const shown = live(drive, 'injectorDuty');
    if (shown.length > 0) return shown.map((channel): RowSignal => rowsOf(drive, channel, 0));
    if (!isRefusal(injection) && injection.kind === 'direct')
      return refuse('direct injection: judged by its crank angle', { conditions: [] });
    return refuse('no injector duty: opening time or place of the injectors not known', {
      channels: ['injectionTime'],
      conditions: ['vehicle profile with engine.injection'],
    });
  },
};

export const INJECTION_ANGLE: Quantity = {
  id: 'injectionAngle',
  unit: 'degCA',
  about: 'crank angle that a direct injection takes: 0.006 x rpm x ms',
  read(drive) {
    const injection = drive.derive(INJECTION);
    if (isRefusal(injection)) return injection;
    if (injection.kind === 'direct') return [timed(drive, injection, injectionAngle)];
    return refuse(
      injection.kind === 'port'
        ? 'port injection: judged by its share of the cycle'
        : 'no injection angle: it is not known where the injectors sit',
      { conditions: injection.kind === 'port' ? [] : ['vehicle profile with engine.injection'] },
    );
  },
};

function timed(
  drive: Parameters<Quantity['read']>[0],
  injection: {
    readonly time: Float64Array;
    readonly hz: number;
    readonly channel: { readonly quality: { readonly quantum: number } };
  },
  of: (time: number, speed: number) => number,
): RowSignal {
  const speed = samplesOf(drive).held('engineSpeed')!;
  const { quantum } = injection.channel.quality;
  return {
    member: '',
    values: injection.time.map((ms, i) => of(ms, speed[i]!)),
    // One step of the opening time at full speed.
    u: of(quantum, 6000) / Math.sqrt(12),
    hz: injection.hz,
  };
}
