import type { Channel, Place } from '../recording/recording.js';
import type { TransmissionKind, Vehicle } from '../vehicle/vehicle.js';
import { type Refusal, refuse } from './recipe.js';

export interface FluidPlace {
  readonly place: 'sump' | 'clutch-outlet' | 'cooler-inlet';
  /** Kind whose limits count. */
  readonly kind: TransmissionKind;
  /** What was taken for granted, one sentence each, to be said in the result; each lowers confidence. */
  readonly assumed: readonly string[];
}

/**
 * Where transmission fluid is measured and which kind of transmission's limits count. A place in the header (any but the
 * catalogue's own default) or the profile decides; else it is the sump. Kind unknown: dual clutch, the stricter limits.
 */
export function fluidPlace(channel: Pick<Channel, 'id' | 'place'>, vehicle: Vehicle): FluidPlace {
  const assumed: string[] = [];
  const { kind, fluidPlace: told } = vehicle.transmission;
  let place: FluidPlace['place'] = 'sump';
  if (channel.place === 'clutch-outlet' || channel.place === 'cooler-inlet') place = channel.place;
  else if (told !== undefined) place = told;
  else assumed.push(`${channel.id} taken as measured in the sump`);
  if (kind === undefined) assumed.push('kind of transmission unknown: limits of a dual clutch used');
  return { place, kind: kind ?? 'dual-clutch', assumed };
}

/** Place of a pressure or temperature on which a rule depends; refused when it is not known, never guessed. */
export function placeOf(channel: Pick<Channel, 'id' | 'place'>): Place | Refusal {
  return (
    channel.place ??
    refuse(`it is not known where ${channel.id} is measured`, {
      conditions: [`place of ${channel.id} in its header or in a map file`],
    })
  );
}
