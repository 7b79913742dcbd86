import { meanEffectivePressure } from '../physics/torque.js';
import { ENGINE_TORQUE, type TorqueBasis } from './engine-torque.js';
import { isRefusal, recipe, refuse } from './recipe.js';

export interface Bmep {
  /** bar, row by row; NaN where it cannot be told. */
  readonly values: Float64Array;
  readonly basis: TorqueBasis;
  /** Relative standard uncertainty at high load. */
  readonly uncertainty: number;
}

export const BMEP = recipe<Bmep>({
  id: 'bmep',
  about:
    'Brake mean effective pressure (bar): 4 pi T / Vd (Heywood 1988 eq. 2.20) of the reconciled engine torque and the displacement of the profile.',
  compute(drive) {
    const { displacement } = drive.vehicle.engine;
    if (displacement === undefined)
      return refuse('no mean effective pressure, because the profile names no displacement', {
        conditions: ['vehicle profile with engine.displacement'],
      });
    const torque = drive.derive(ENGINE_TORQUE);
    if (isRefusal(torque)) return refuse(`no mean effective pressure: ${torque.reason}`, torque.missing);
    return {
      values: torque.values.map((each) => meanEffectivePressure(each, displacement)),
      basis: torque.basis,
      uncertainty: torque.u,
    };
  },
});
