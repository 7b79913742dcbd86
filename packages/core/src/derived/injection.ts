import { quantile } from '../math/quantile.js';
import { injectorDuty } from '../physics/injection.js';
import type { Channel } from '../recording/recording.js';
import { type Drive, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';

export interface Injection {
  /** `both`: a port and a direct set share the fuel; undefined when nothing tells. */
  readonly kind: 'port' | 'direct' | 'both' | undefined;
  /** What told it. */
  readonly source: string;
  readonly channel: Channel;
  /** Opening time of one injection, ms, held; NaN = no sample. */
  readonly time: Float64Array;
  /** Fresh values per second. */
  readonly hz: number;
}

/** No port system holds more than this, no direct one runs under load on less, kPa. Common practice, no source. */
const DIRECT_FROM = 2000;
const PORT_BELOW = 1200;
/** A direct injector has to be done within compression: longer than this share of the cycle (%) is a port injector. */
const PORT_DUTY = 45;

export const INJECTION = recipe<Injection>({
  id: 'injection',
  about:
    'Injector opening time (ms), and where the injectors sit: profile, else rail pressure (above 2 MPa direct, never above 1.2 MPa port), else an opening of more than 45 % of the cycle (port).',
  compute(drive) {
    const channel = drive.family('injectionTime').find(({ quality }) => !quality.constant && quality.samples > 2);
    if (channel === undefined)
      return refuse('no injection, because injectionTime is absent', { channels: ['injectionTime'] });
    const time = samplesOf(drive).held(channel.id)!;
    return { ...kindOf(drive, time), channel, time, hz: samplesOf(drive).hz(channel.id) };
  },
});

function kindOf(drive: Drive, time: Float64Array): Pick<Injection, 'kind' | 'source'> {
  const { injection } = drive.vehicle.engine;
  if (injection !== undefined) return { kind: injection, source: 'profile' };
  const rail = drive.family('fuelRailPressure').find(({ quality }) => quality.samples > 2);
  if (rail !== undefined) {
    const high = quantile(rail.values, 0.9);
    if (high > DIRECT_FROM) return { kind: 'direct', source: rail.id };
    if (high > 0 && high < PORT_BELOW) return { kind: 'port', source: rail.id };
  }
  const speed = samplesOf(drive).held('engineSpeed');
  if (speed === undefined) return { kind: undefined, source: 'nothing' };
  let long = 0;
  for (let i = 0; i < time.length; i++) if (speed[i]! >= 1500 && injectorDuty(time[i]!, speed[i]!) > PORT_DUTY) long++;
  return long >= 3 ? { kind: 'port', source: 'injectionTime' } : { kind: undefined, source: 'nothing' };
}
