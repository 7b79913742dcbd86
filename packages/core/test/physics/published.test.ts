import { describe, expect, it } from 'vitest';
import { totalTrim } from '../../src/derived/total-trim.js';
import { airDensity, moistAirDensity, saturationPressure, standardAtmosphere } from '../../src/physics/air.js';
import { absoluteLoad, fillingOf, speedDensity } from '../../src/physics/air-mass.js';
import {
  blendDensity,
  blendRatio,
  ethanolFor,
  ethanolTrim,
  fuelFlow,
  stoichiometricRatio,
} from '../../src/physics/fuel.js';
import {
  flowAtPressure,
  injectionAngle,
  injectorDuty,
  injectorFor,
  volumePerMinute,
} from '../../src/physics/injection.js';
import { type CorrectionFactor, din70020, iso1585, saeJ1349 } from '../../src/physics/power-correction.js';
import { coastDownForce, dragForce, massFactor, roadForce, rollingForce } from '../../src/physics/road-load.js';
import { meanEffectivePressure, powerOf, torqueOf } from '../../src/physics/torque.js';
import { hasValidation, sharedText, WHERE } from '../math/published.js';

interface Example {
  readonly id: string;
  readonly inputs: Record<string, number>;
  // biome-ignore lint/suspicious/noExplicitAny: numbers, lists and records side by side
  readonly expected: any;
  readonly source: string;
}

describe.skipIf(!hasValidation)(`worked examples of validation/physics-examples.json${WHERE}`, () => {
  const examples: Example[] = hasValidation ? JSON.parse(sharedText('validation/physics-examples.json')) : [];
  const example = (id: string): Example => {
    const found = examples.find((each) => each.id === id);
    if (found === undefined) throw new Error(`no example ${id}`);
    return found;
  };
  /** Relative difference from what was published. */
  const off = (value: number, published: number) => Math.abs(value / published - 1);

  it('air density of ISO 2533:1975, of the density tables and with moisture', () => {
    expect(off(airDensity(101.325, 15), example('air-density-isa0').expected)).toBeLessThan(1e-5);
    expect(off(airDensity(101.325, 20), example('air-density-20C').expected)).toBeLessThan(1e-4);
    expect(off(airDensity(101.325, 25), example('air-density-25C').expected)).toBeLessThan(2e-5);
    expect(off(airDensity(100, 0), example('air-density-iupac').expected)).toBeLessThan(1e-4);
    const moist = example('air-density-moist').expected;
    expect(off(saturationPressure(30), moist.psat_hPa / 10)).toBeLessThan(1e-9);
    expect(off(moistAirDensity(100, 30, 0.6), moist.rho)).toBeLessThan(3e-5);
  });

  it('stoichiometry (Heywood 1988 eq. 3.6 and table D.4)', () => {
    for (const [id, hydrogen, oxygen] of [
      ['afr-CH1.85 gasoline', 1.85, 0],
      ['afr-CH1.87 gasoline', 1.87, 0],
      ['afr-iso-octane', 2.25, 0],
      ['afr-ethanol', 3, 0.5],
    ] as const) {
      expect(off(stoichiometricRatio(hydrogen, oxygen), example(id).expected)).toBeLessThan(2e-3);
    }
    // Alternative-fuel property tables: E10 about 14.1, E85 about 9.8 (from memory).
    expect(Math.abs(blendRatio(0) - 14.6)).toBeLessThan(0.02);
    expect(Math.abs(blendRatio(0.1) - 14.1)).toBeLessThan(0.1);
    expect(Math.abs(blendRatio(0.85) - 9.8)).toBeLessThan(0.05);
    expect(Math.abs(blendRatio(1) - 9)).toBeLessThan(0.01);
    expect(blendRatio(1.2)).toBeNaN();
    // What the fuel asks of a map for petrol: derived from the ratios, +3.5 to +4 and +49 %.
    expect(Math.abs(ethanolTrim(0.1) - 3.75)).toBeLessThan(0.5);
    expect(Math.abs(ethanolTrim(0.85) - 49)).toBeLessThan(1);
    expect(ethanolTrim(0.85, 0.85)).toBeCloseTo(0, 12);
    expect(ethanolFor(ethanolTrim(0.3))).toBeCloseTo(0.3, 6);
    expect(ethanolFor(-4)).toBeNaN();
  });

  it('mean effective pressure and power (Heywood 1988 eq. 2.19, 2.20) and the textbook test-bed example', () => {
    expect(off(meanEffectivePressure(200, 2), example('bmep-1').expected)).toBeLessThan(1e-12);
    const turned = torqueOf(example('bmep-2').inputs.P_kW!, 6000);
    expect(off(meanEffectivePressure(turned, 2) * 100, example('bmep-2').expected)).toBeLessThan(1e-12);
    const bed = example('textbook-17.12').expected;
    expect(off(meanEffectivePressure(bed.torque_Nm, bed.Vd_L), bed.bmep_bar)).toBeLessThan(1e-9);
    expect(off(powerOf(bed.torque_Nm, 4500), bed.bp_kW)).toBeLessThan(1e-9);
    expect(off(fillingOf(6000 / 60, 100, 300 - 273.15, bed.Vd_L, 4500) * 100, bed.vol_eff_pct)).toBeLessThan(3e-4);
    expect(off(powerOf(400, 5000), example('power-torque').expected)).toBeLessThan(1e-12);
  });

  it('air flow, filling and absolute load (Heywood 1988 eq. 2.27, SAE J1979 PID 43)', () => {
    expect(off(speedDensity(200, 40, 0.95, 2, 6000), example('speed-density').expected.m_g_s)).toBeLessThan(2e-5);
    expect(off(fillingOf(100, 100, 25, 2, 6000), example('vol-eff').expected)).toBeLessThan(2e-5);
    expect(off(absoluteLoad(100, 2, 6000), example('absolute-load').expected)).toBeLessThan(1e-12);
  });

  it('injection: duty, angle, orifice, fuel of an air flow', () => {
    expect(injectorDuty(15, 6000)).toBeCloseTo(example('injector-duty').expected, 12);
    expect(injectionAngle(5, 6000)).toBeCloseTo(180, 12);
    expect(off(flowAtPressure(440, 3, 4), example('injector-pressure').expected)).toBeLessThan(1e-12);
    expect(off((fuelFlow(50, 1, 14.7) * 3600) / 745, example('fuel-from-maf').expected)).toBeLessThan(1e-12);
    // lambda by its definition: 12.5 : 1 of petrol at 14.7, turned round.
    expect(off(12.5 / fuelFlow(12.5, 1, 14.7) / 14.7, 1)).toBeLessThan(1e-12);
    expect(off(fuelFlow(1, example('lambda').expected, 14.7), 1 / 12.5)).toBeLessThan(1e-12);
  });

  it('injector sizing: two worked examples of trade pages, and mass flow as volume', () => {
    // lb/h and hp of the examples by 0.45359237 kg/lb and 745.6998715822702 W/hp (mechanical horsepower).
    const POUND = 0.45359237;
    const HORSE = 0.7456998715822702;
    for (const id of ['injector-size', 'injector-size-2']) {
      const { inputs, expected } = example(id);
      const perKilowattHour = (inputs.bsfc_lb_hp_h! * POUND) / HORSE;
      const size = injectorFor(inputs.hp! * HORSE, perKilowattHour, inputs.n!, inputs.duty!);
      expect(off((size * 3.6) / POUND, expected), id).toBeLessThan(1e-9);
    }
    const volume = example('injector-cc');
    const flow = (volume.inputs.lb_h! * POUND) / 3.6;
    expect(off(volumePerMinute(flow, volume.inputs.density_g_cc!), volume.expected)).toBeLessThan(1e-9);
    expect(blendDensity(0)).toBeCloseTo(0.745, 12);
  });

  it('total trim is a product, not a sum (rules of thumb, derived: 10 % and 10 % are 21 %)', () => {
    const rule = sharedText('validation/rules-of-thumb.csv')
      .split(/\r?\n/)
      .find((line) => line.startsWith('fuel trim,equation'));
    expect(rule).toContain('21 % vs 20 %');
    expect(totalTrim(10, 10)).toBeCloseTo(21, 12);
  });

  it('road load: 40 CFR 1066.210(d), 86.529-98, Gillespie (1992), a handbook car at 100 km/h', () => {
    const us = example('road-load-us').expected;
    expect(coastDownForce(30, 0.3, 0.02, 60)).toBeCloseTo(us.F_lbf, 9);
    const si = example('road-load-si').expected;
    expect(off(coastDownForce(si.A_N, si.B_N_s_m, si.C_N_s2_m2, 26.8224), si.F_N)).toBeLessThan(1e-9);
    expect(off(coastDownForce(6.06, 0, 0.0244, 65), example('road-load-cfr-motorcycle').expected)).toBeLessThan(1e-4);
    // The coefficient of a radial truck tyre on a good road grows with speed; standard gravity here, 9.81 there.
    const truck = example('rolling-gillespie');
    const perWeight = 0.0041 + 0.000041 * (truck.inputs.v_kmh! / truck.inputs.mph_factor!);
    expect(off(rollingForce(perWeight, truck.inputs.m_kg!), truck.expected)).toBeLessThan(5e-4);
    expect(off(dragForce(0.65 * 10.0335, 29.9517, 1.07), example('drag-1').expected.D_N)).toBeLessThan(1e-9);
    const car = example('drag-roll').expected;
    expect(off(dragForce(0.66, 100 / 3.6, 1.2), car.F_drag_N)).toBeLessThan(1e-9);
    expect(off(rollingForce(0.012, 1500), car.F_roll_N)).toBeLessThan(1e-4);
    const force = roadForce({ mass: 1500, dragArea: 0.66, rolling: 0.012 }, 100 / 3.6, 1.2);
    expect(off((force * 100) / 3.6, car.P_W)).toBeLessThan(1e-4);
    [3, 4, 8, 12].forEach((reduction, i) => {
      expect(massFactor(reduction)).toBeCloseTo(example('mass-factor').expected[i], 12);
    });
  });

  it('times of a coast-down and of a full-load run from the forces (closed forms of the worked examples, by steps of time)', () => {
    const time = (inputs: Record<string, number>, from: number, to: number, force: (v: number) => number) => {
      // Simpson's rule over speed: dt = m dv / F.
      const steps = 2000;
      const h = (to - from) / steps;
      let sum = 0;
      for (let i = 0; i <= steps; i++) sum += (i === 0 || i === steps ? 1 : i % 2 === 1 ? 4 : 2) / force(from + i * h);
      return (inputs.m_kg! * h * sum) / 3;
    };
    const coast = example('coastdown');
    const resists = (v: number) => coastDownForce(coast.inputs.A_N!, 0, coast.inputs.C!, v);
    const slowed = time(coast.inputs, coast.inputs.v2_kmh! / 3.6, coast.inputs.v1_kmh! / 3.6, resists);
    expect(off(slowed, coast.expected)).toBeLessThan(1e-9);
    const run = example('accel-const-force-drag');
    const pulls = (v: number) => run.inputs.F_N! - coastDownForce(0, 0, run.inputs.k_N_s2_m2!, v);
    expect(off(time(run.inputs, 0, run.inputs.v_kmh! / 3.6, pulls), run.expected.t_s)).toBeLessThan(1e-9);
    // Metres are seconds at a speed: ds = v dt, so each force counts over its speed.
    const metres = time(run.inputs, 0, run.inputs.v_kmh! / 3.6, (v) => pulls(v) / v);
    expect(off(metres, run.expected.s_m)).toBeLessThan(1e-9);
    // Constant power through any wheel: the torque at its turning speed, over its radius.
    const even = example('accel-const-power');
    const radius = 0.31;
    const pushes = (v: number) => torqueOf(even.inputs.P_kW!, (30 * v) / (Math.PI * radius)) / radius;
    expect(off(time(even.inputs, 0, even.inputs.v_kmh! / 3.6, pushes), even.expected)).toBeLessThan(1e-12);
  });

  it('the standard atmosphere (ISO 2533:1975 table 5, geopotential altitudes)', () => {
    const rows = sharedText('validation/isa.csv').trim().split(/\r?\n/).slice(1);
    const held = rows.map((row) => row.split(',')).filter((cells) => cells[1] === 'geopotential');
    expect(held.length).toBeGreaterThanOrEqual(5);
    for (const [altitude, , kelvin, pressure, density] of held) {
      const air = standardAtmosphere(Number(altitude));
      expect(air.temperature + 273.15).toBeCloseTo(Number(kelvin), 2);
      expect(off(air.pressure * 10, Number(pressure))).toBeLessThan(2e-5);
      expect(off(airDensity(air.pressure, air.temperature), Number(density))).toBeLessThan(2e-5);
    }
  });

  it('correction factors of SAE J1349, ISO 1585 and DIN 70020, with their range', () => {
    const rows = sharedText('validation/power-correction.csv').trim().split(/\r?\n/).slice(1);
    let seen = 0;
    for (const row of rows) {
      const [, formula, pressure, temperature, factor] = /^"?(.*?)"?,([\d.]+),(-?[\d.]+),([\d.]+.*)$/.exec(row) ?? [];
      const by: ((p: number, t: number) => CorrectionFactor) | undefined = formula?.startsWith('SAE')
        ? saeJ1349
        : formula?.startsWith('ISO')
          ? iso1585
          : formula?.startsWith('DIN')
            ? din70020
            : undefined;
      if (by === undefined) throw new Error(`row not understood: ${row}`);
      const got = by(Number(pressure) / 10, Number(temperature));
      expect(Math.abs(got.factor - Number.parseFloat(factor!)), row).toBeLessThan(1e-6);
      if (row.includes('invalid')) expect(got.valid).toBe(false);
      seen++;
    }
    expect(seen).toBe(rows.length);
    expect(iso1585(99, 25)).toEqual({ factor: 1, valid: true });
    expect(iso1585(Number.NaN, 25).valid).toBe(false);
  });
});

describe('mass factor of cars today', () => {
  it('lies between a light engine and the published approximation', async () => {
    const { massFactorRange } = await import('../../src/physics/road-load.js');
    for (const reduction of [3, 8, 12]) {
      const { value, u } = massFactorRange(reduction);
      expect(value + Math.sqrt(3) * u).toBeCloseTo(massFactor(reduction), 12);
      expect(value - Math.sqrt(3) * u).toBeGreaterThan(1.02);
    }
  });
});
