import { BMEP } from '../derived/bmep.js';
import { ENGINE_TORQUE } from '../derived/engine-torque.js';
import { uncertaintyOf } from '../derived/exceeds.js';
import { KNOCK_SIGNAL } from '../derived/knock-signal.js';
import { isRefusal, refuse } from '../derived/recipe.js';
import { ROAD_TORQUE } from '../derived/road-torque.js';
import { samplesOf } from '../derived/samples.js';
import { TORQUE_INTERVENTIONS } from '../derived/torque-interventions.js';
import { powerOf } from '../physics/torque.js';
import { RECORDED_TARGET } from './apply-targets.js';
import { memberOf, type Quantity, type RowSignal } from './signal.js';
import { fullPedalFor, live, rowsOf, temperature } from './signals-air.js';

/** rpm below which rods carry most; as in engine.torque-load. */
const LOW_SPEED = 3000;
/** Seconds of full pedal before the boost has to be there. */
const SPOOL = 2;

export const KNOCK: Quantity = {
  id: 'knock',
  unit: 'deg',
  about:
    'knock retard above its steady learned offset at load fraction >= 0.6 and >= 1500 rpm, outside tip-in, shifts and traction control',
  read(drive) {
    const signal = drive.derive(KNOCK_SIGNAL);
    if (isRefusal(signal)) return signal;
    const cylinders = signal.channels.filter(({ cylinder }) => cylinder !== undefined);
    return (cylinders.length > 0 ? cylinders : signal.channels).map((each) => ({
      member: memberOf(each.id),
      values: each.own.map((x, i) => (each.eligible[i] === 1 ? Math.max(0, x) : Number.NaN)),
      u: each.uncertainty,
      hz: signal.rate,
    }));
  },
};

export const IGNITION_ERROR: Quantity = {
  id: 'ignitionError',
  unit: 'deg',
  about: 'ignition angle less the angle asked for (negative = later than asked)',
  read(drive) {
    const actual = live(drive, 'ignitionAdvance');
    const wanted = live(drive, 'ignitionAdvanceTarget');
    const base = wanted.length > 0 ? wanted : live(drive, 'ignitionAdvanceBase');
    if (actual.length === 0 || base.length === 0)
      return refuse('no ignition against what was asked for, because one of both is absent', {
        channels: [
          ...(actual.length === 0 ? ['ignitionAdvance'] : []),
          ...(base.length === 0 ? ['ignitionAdvanceTarget'] : []),
        ],
      });
    const samples = samplesOf(drive);
    return actual.map((channel) => {
      const at = channel.id.indexOf('.');
      const own = at < 0 ? undefined : base.find((each) => each.id.endsWith(channel.id.slice(at)));
      const target = samples.held((own ?? base[0]!).id)!;
      return {
        member: memberOf(channel.id),
        values: samples.held(channel.id)!.map((x, i) => x - target[i]!),
        u: Math.hypot(uncertaintyOf(channel), uncertaintyOf(own ?? base[0]!)),
        hz: samples.hz(channel.id),
      };
    });
  },
};

/** An angle as it was recorded, of the whole engine or by cylinder. */
function angle(id: string, about: string, bases: readonly string[]): Quantity {
  return {
    id,
    unit: 'deg',
    about,
    read(drive) {
      for (const base of bases) {
        const found = live(drive, base);
        if (found.length > 0) return found.map((channel) => rowsOf(drive, channel, 0));
      }
      return refuse(`no ${about}, because ${bases[0]} is absent`, { channels: bases.slice(0, 1) });
    },
  };
}

export const IGNITION = angle('ignition', 'ignition angle', ['ignitionAdvance']);
export const IGNITION_WANTED = angle('ignitionWanted', 'ignition angle asked for', [
  'ignitionAdvanceTarget',
  'ignitionAdvanceBase',
]);

export const TORQUE: Quantity = {
  id: 'torque',
  unit: 'N.m',
  about: 'engine torque at the crank, reconciled from channel, air and road load',
  read(drive) {
    const torque = drive.derive(ENGINE_TORQUE);
    if (isRefusal(torque)) return torque;
    return [{ member: '', values: torque.values, u: torque.u, relative: true, hz: samplesOf(drive).hz('engineSpeed') }];
  },
};

export const POWER: Quantity = {
  id: 'power',
  unit: 'kW',
  about: 'engine power at the crank: reconciled torque x speed, uncorrected',
  read(drive) {
    const torque = drive.derive(ENGINE_TORQUE);
    if (isRefusal(torque)) return torque;
    const speed = samplesOf(drive).held('engineSpeed');
    if (speed === undefined) return refuse('no power, because engineSpeed is absent', { channels: ['engineSpeed'] });
    const values = torque.values.map((each, i) => powerOf(each, speed[i]!));
    return [{ member: '', values, u: torque.u, relative: true, hz: samplesOf(drive).hz('engineSpeed') }];
  },
};

/** Torque that the gearbox is told, against what the road shows: by it the gearbox clamps its clutches. */
export const TORQUE_AGAINST_ROAD: Quantity = {
  id: 'torqueAgainstRoad',
  unit: '%',
  about: 'reported engine torque over road-load torque, less one',
  read(drive) {
    const channel = live(drive, 'engineTorque')[0];
    if (channel === undefined)
      return refuse('no reported torque, because engineTorque is absent', { channels: ['engineTorque'] });
    const road = drive.derive(ROAD_TORQUE);
    if (isRefusal(road)) return road;
    const told = samplesOf(drive).held(channel.id)!;
    return [
      {
        member: '',
        values: told.map((x, i) => (road.values[i]! > 50 ? 100 * (x / road.values[i]! - 1) : Number.NaN)),
        u: 100 * road.u,
        hz: samplesOf(drive).hz(channel.id),
      },
    ];
  },
};

export const TORQUE_SHORTFALL: Quantity = {
  id: 'torqueShortfall',
  unit: '1',
  about: `demanded less actual engine torque over the demand, from ${SPOOL} s after the pedal was floored`,
  read(drive) {
    const [actual, wanted] = [live(drive, 'engineTorque')[0], live(drive, 'engineTorqueTarget')[0]];
    if (actual === undefined || wanted === undefined)
      return refuse('no torque against its demand, because one of both is absent', {
        channels: [
          ...(actual === undefined ? ['engineTorque'] : []),
          ...(wanted === undefined ? ['engineTorqueTarget'] : []),
        ],
      });
    const samples = samplesOf(drive);
    const [x, y] = [samples.held(actual.id)!, samples.held(wanted.id)!];
    const asked = fullPedalFor(drive, SPOOL);
    return [
      {
        member: '',
        values: x.map((each, i) => (y[i]! > 50 && asked[i] === 1 ? (y[i]! - each) / y[i]! : Number.NaN)),
        u: 0.01,
        hz: Math.min(samples.hz(actual.id), samples.hz(wanted.id)),
      },
    ];
  },
};

export const MEAN_PRESSURE: Quantity = {
  id: 'meanPressure',
  unit: 'bar',
  about: 'brake mean effective pressure: 4 pi x torque over displacement (Heywood 1988 eq. 2.20)',
  read(drive) {
    const bmep = drive.derive(BMEP);
    if (isRefusal(bmep)) return bmep;
    const hz = samplesOf(drive).hz('engineSpeed');
    return [{ member: '', values: bmep.values, u: bmep.uncertainty, relative: true, hz }];
  },
};

export const LOW_PRESSURE: Quantity = {
  id: 'meanPressureLow',
  unit: 'bar',
  about: `brake mean effective pressure below ${LOW_SPEED} rpm`,
  read(drive) {
    const bmep = drive.derive(BMEP);
    if (isRefusal(bmep)) return bmep;
    const speed = samplesOf(drive).held('engineSpeed')!;
    const values = bmep.values.map((x, i) => (speed[i]! < LOW_SPEED ? x : Number.NaN));
    return [{ member: '', values, u: bmep.uncertainty, relative: true, hz: samplesOf(drive).hz('engineSpeed') }];
  },
};

export const INTERVENTION: Quantity = {
  id: 'intervention',
  unit: '1',
  about: '1 while traction or stability control, or a torque limiter, takes torque',
  read(drive) {
    const found = drive.derive(TORQUE_INTERVENTIONS);
    const limiter = samplesOf(drive).held('torqueLimiterActive');
    if (isRefusal(found)) return found;
    if (found.blind.length > 0 && limiter === undefined)
      return refuse('no torque interventions: neither flags nor wheel speeds are recorded', {
        channels: ['tractionControlActive', 'torqueLimiterActive'],
      });
    const values = new Float64Array(drive.time.length);
    for (let i = 0; i < values.length; i++) values[i] = found.traction[i] === 1 || (limiter?.[i] ?? 0) > 0 ? 1 : 0;
    return [{ member: '', values, u: 0, hz: 1 / samplesOf(drive).spacing }];
  },
};

/** Exhaust gas, apart by place: a limit belongs to a place. */
export function exhaust(place: 'before-turbine' | 'after-turbine' | 'unknown'): Quantity {
  const where = {
    'before-turbine': 'before the turbine',
    'after-turbine': 'after the turbine',
    unknown: 'place not told',
  };
  return {
    id: `exhaust.${place}`,
    unit: 'degC',
    about: `exhaust gas ${where[place]}`,
    read(drive) {
      const all = live(drive, 'exhaustGasTemperature');
      const found = all.filter((each) =>
        place === 'unknown' ? each.place !== 'before-turbine' && each.place !== 'after-turbine' : each.place === place,
      );
      if (found.length > 0) return found.map((channel) => rowsOf(drive, channel, 10));
      return refuse(`no exhaust temperature ${where[place]}`, {
        channels: ['exhaustGasTemperature'],
        conditions: all.length > 0 ? ['place of exhaustGasTemperature in its header or in a map file'] : [],
      });
    },
  };
}

export const OIL: Quantity = {
  id: 'engineOil',
  unit: 'degC',
  about: 'engine oil',
  read: (drive) => temperature(drive, ['engineOilTemperature'], 2),
};
export const COOLANT: Quantity = {
  id: 'coolant',
  unit: 'degC',
  about: 'coolant',
  read: (drive) => temperature(drive, ['coolantTemperature'], 2),
};
export const FLUID: Quantity = {
  id: 'transmissionOil',
  unit: 'degC',
  about: 'transmission fluid',
  read: (drive) => temperature(drive, ['transmissionOilTemperature'], 2),
};

/** Richer than the map by this much (lambda) is no rounding. Common practice, no source. */
const RICHER = 0.02;

export const ENRICHED: Quantity = {
  id: 'enriched',
  unit: '1',
  about: `1 where the control unit asks for a mixture richer by more than ${RICHER} than the lambdaTarget of the targets file`,
  read(drive) {
    const asked = samplesOf(drive).held(RECORDED_TARGET);
    const map = samplesOf(drive).held('lambdaTarget');
    if (asked === undefined || map === undefined)
      return refuse('no enrichment against the map, because the targets file or the recorded lambdaTarget is absent', {
        channels: ['lambdaTarget'],
        conditions: ['targets file with lambdaTarget'],
      });
    const values = asked.map((x, i) => (Number.isNaN(x - map[i]!) ? Number.NaN : Number(map[i]! - x > RICHER)));
    return [{ member: '', values, u: 0, hz: samplesOf(drive).hz(RECORDED_TARGET) }];
  },
};

export const TARGET: Quantity = {
  id: 'lambdaTarget',
  unit: '1',
  about: 'lambda wanted',
  read(drive) {
    const found = live(drive, 'lambdaTarget');
    if (found.length === 0)
      return refuse('no mixture target, because lambdaTarget is absent', { channels: ['lambdaTarget'] });
    return found.slice(0, 1).map((channel): RowSignal => rowsOf(drive, channel, 0));
  },
};
