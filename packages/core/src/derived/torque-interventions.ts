import { type KnockDecoys, knockDecoys } from './knock-decoys.js';
import { type Drive, isRefusal, recipe } from './recipe.js';

/** Rows at which something other than the driver sets the torque: tip-in and shifts, traction control. */
export const TORQUE_INTERVENTIONS = recipe<KnockDecoys>({
  id: 'torqueInterventions',
  about:
    'Rows of tip-in, shifts and (by flags, or by an axle that runs away) traction control, in which torque is taken or retarded on purpose.',
  compute: knockDecoys,
});

/** The recipe refuses never; this only tells the compiler so. */
export function interventionsOf(drive: Drive): KnockDecoys {
  const found = drive.derive(TORQUE_INTERVENTIONS);
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
}
