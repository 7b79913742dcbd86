import type { Aftertreatment } from './aftertreatment.js';
import type { Bus } from './bus.js';
import type { CarSpec } from './car.js';
import type { Combustion } from './combustion.js';
import type { Driveline } from './driveline.js';
import type { Filter } from './filter.js';
import type { KnockControl } from './knock.js';
import type { Mixture } from './mixture.js';
import type { Plant } from './plant.js';
import type { Transmission } from './transmission.js';
import type { ValveTrain } from './valve-train.js';

const RPM = 30 / Math.PI;
export interface SignalSource {
  readonly id: string;
  /** Value now in the unit of the signal table below. */
  readonly read: () => number;
}
interface Parts {
  readonly aftertreatment: Aftertreatment;
  readonly filter: Filter;
  readonly mixture: Mixture;
  readonly knock: KnockControl;
  readonly combustion: Combustion;
  readonly driveline: Driveline;
  readonly transmission: Transmission;
  readonly valves: ValveTrain;
}

/** K by which a coolant sensor in a bubble reads off: up in three seconds, down in four. */
function steam(plant: Plant, b: Bus): number {
  if (plant.bubbles === undefined || b.coolant < 80) return 0;
  const t = b.t % plant.bubbles.every;
  return plant.bubbles.size * Math.max(0, Math.min(t / 3, (7 - t) / 4));
}

/** Channel id and value of every signal that a control unit of this car could log. Units: see units.ts. */
export function signalsOf(car: CarSpec, plant: Plant, b: Bus, parts: Parts): SignalSource[] {
  const { mixture, knock, combustion, driveline } = parts;
  const s = car.sensors;
  const list: SignalSource[] = [];
  const add = (id: string, read: () => number) => list.push({ id, read });
  add('engineSpeed', () => Math.max(0, b.engineSpeed * RPM + b.unsteady));
  add('idleSpeedTarget', () => b.idleTarget);
  add('starterActive', () => (b.key === 2 && b.running === 0 ? 1 : 0));
  add('vehicleSpeed', () =>
    Math.max(0, 1.8 * (b.frontAxle * driveline.radiusFront + b.rearAxle * driveline.radiusRear)),
  );
  add('pedalPosition', () => s.pedalRest + (s.pedalFull - s.pedalRest) * b.pedal);
  add('throttlePosition', () => s.throttleRest + (s.throttleFull - s.throttleRest) * b.throttle);
  add('engineLoad', () => b.load04);
  add(
    'engineLoadAbsolute',
    () => (100 * b.airFlow * 2 * Math.PI * 2000) / (Math.max(b.engineSpeed, 5) * 1.184 * car.engine.displacement),
  );
  add('manifoldPressure', () => (plant.valveThrottled ? Math.max(b.manifold, 0.93 * b.barometer) : b.manifold));
  // Blow-by rises with cylinder pressure; a valve draws the crankcase to a slight vacuum.
  add('crankcasePressure', () =>
    b.running === 1 ? plant.blowBy * (0.35 + 1.1 * Math.min(1.2, b.strokeShare)) - 0.8 : 0,
  );
  add('boostPressure', () => b.boost);
  add('boostPressureTarget', () => b.boostTarget);
  add('wastegateDuty', () => b.wastegate * 100);
  add('wastegateTarget', () => b.wastegate * 100);
  add('wastegatePosition', () => Math.min(100, Math.max(0, b.wastegatePosition * 100 - plant.actuatorOff)));
  add('barometricPressure', () => b.barometer);
  add('airMassFlow', () => b.airMetered * 1000);
  add('intakeAirTemperature', () => b.intakeAir);
  add('chargeAirTemperature', () => b.chargeAir);
  add('ambientTemperature', () => b.ambient);
  add('coolantTemperature', () => b.coolant + steam(plant, b));
  add('coolantLevelWarning', () => (plant.coolantLow ? 1 : 0));
  // The cap holds what warm water builds up; gas comes on top with the load.
  add('coolantPressure', () => 1.6 * Math.max(0, b.coolant - 30) + plant.gasPressure * Math.min(1.1, b.strokeShare));
  add('engineOilTemperature', () => b.oil);
  add('transmissionOilTemperature', () => b.fluid);
  add('clutchOilTemperature', () => b.clutchOutlet);
  add('gear', () => b.gear);
  add('gearTarget', () => b.gearTarget);
  add('selector', () => b.selector);
  add('brakeSwitch', () => (b.brake > 0.02 ? 1 : 0));
  add('brakePressure', () => b.brake * 110);
  add('clutchSwitch', () => (car.transmission.kind === 'manual' && b.capacity1 < 0.3 * car.engine.ratedTorque ? 1 : 0));
  for (let k = 0; k < car.engine.banks; k++) {
    add(`intakeCamAngle.bank${k + 1}`, () => parts.valves.logged(k));
    add(`intakeCamTarget.bank${k + 1}`, () => parts.valves.target);
    add(`lambda.bank${k + 1}`, () => Math.min(1.99997, mixture.sensor[k]!));
    add(`fuelTrimShort.bank${k + 1}`, () => mixture.short[k]! * 100);
    add(`fuelTrimLong.bank${k + 1}`, () => mixture.long[k]! * 100);
  }
  add('lambdaTarget', () => b.lambdaTarget);
  add('fuelSystemStatus', () => mixture.status);
  add('oilVapour', () => mixture.oilVapour);
  add('fuelRate', () => (b.fuelFlow * 3600) / 0.745);
  add('fuelRailPressure', () => b.railPressure);
  add('fuelRailPressureTarget', () => b.railTarget);
  add('fuelFeedPressure', () => b.feedPressure);
  add('fuelFeedPressureTarget', () => b.feedTarget);
  add('injectionTime', () => b.injectionTime);
  add('fuelCut', () => b.fuelCut);
  add('ethanolContent', () => plant.ethanol * 100);
  add('purgeVapour', () => b.purgeVapour);
  add('purgeDuty', () => b.purgeDuty * 100);
  add('fuelTankPressure', () => b.tankPressure);
  add('knockLearned', () => b.octane * plant.octaneAuthority);
  add('octaneLearning', () => (plant.octaneDown ? 100 * (1 - b.octane) : 100 * b.octane));
  add('ignitionAdvance', () => b.ignition);
  const extra = () => (plant.retardHoldsInterventions ? b.retardTotal - b.knockMean - (b.pedal < 0.01 ? 9 : 0) : 0);
  add('knockRetard', () => b.knockMean + Math.max(0, extra()));
  for (let c = 0; c < car.engine.cylinders; c++)
    add(`knockRetard.cylinder${c + 1}`, () => knock.retard[c]! + Math.max(0, extra()));
  // A control unit that starts its counters anew forgets what it had counted.
  const forgotten = new Float64Array(car.engine.cylinders);
  let begun = 0;
  for (let c = 0; c < car.engine.cylinders; c++) {
    add(`misfireCount.cylinder${c + 1}`, () => {
      if (plant.countsBefore.length > 0) return plant.countsBefore[c] ?? 0;
      if (c === 0 && plant.countsReset > 0 && b.t - begun >= plant.countsReset) {
        begun = b.t;
        forgotten.set(combustion.count);
      }
      return combustion.count[c]! - forgotten[c]!;
    });
    add(`engineRoughness.cylinder${c + 1}`, () => combustion.roughness[c]!);
    add(`injectorCorrection.cylinder${c + 1}`, () => combustion.correction[c]!);
    add(`exhaustGasTemperature.cylinder${c + 1}`, () => combustion.exhaust[c]!);
    add(`preIgnitionCount.cylinder${c + 1}`, () => knock.preIgnitions[c]!);
  }
  for (let k = 0; k < car.engine.banks; k++) add(`exhaustGasTemperature.bank${k + 1}`, () => combustion.gas + 4 * k);
  for (let k = 0; k < car.engine.banks; k++) {
    add(`oxygenSensorVoltage.bank${k + 1}Sensor1`, () => parts.aftertreatment.front[k]!);
    add(`oxygenSensorVoltage.bank${k + 1}Sensor2`, () => parts.aftertreatment.rear[k]!);
  }
  add('particulateFilterPressureDrop', () => parts.filter.shown + plant.filterOffset);
  add('particulateFilterTemperature', () => parts.filter.temperature);
  add('catalystTemperature.bank1Sensor1', () => parts.aftertreatment.temperature);
  add('exhaustGasTemperature.sensor2', () => combustion.afterTurbine);
  add('exhaustGasTemperatureModelled', () => combustion.modelled);
  add('missedFirings', () => combustion.missed);
  add('wantedFirings', () => combustion.wanted);
  add('cylinderDeactivation', () => combustion.shutOff);
  add('engineTorque', () => b.torque);
  add('engineTorqueTarget', () => b.demand);
  let stopped = Number.POSITIVE_INFINITY;
  add('coolantPumpDuty', () => {
    if (b.running === 1) stopped = b.t;
    return plant.afterRun > 0 && b.running === 0 && b.t - stopped < plant.afterRun ? 65 : 0;
  });
  add('ignitionSwitch', () => (b.key > 0 ? 1 : 0));
  add('startStopActive', () => b.autoStop);
  add('engineOilPressure', () => b.oilPressure);
  add('engineOilPressureWhole', () => b.oilWhole);
  add('systemVoltage', () => b.voltage);
  add('engineRunTime', () => b.runTime);
  // Wheels: the outer ones run faster in a bend.
  const yaw = () => (b.speed * Math.tan((b.steering / car.body.steeringRatio) * (Math.PI / 180))) / car.body.wheelbase;
  const half = car.body.track / 2;
  const wheel = (k: 0 | 1 | 2 | 3, axle: number, radius: number, side: number, front: number) => {
    const base = axle * radius;
    const v = 3.6 * (base * (1 + front) - side * yaw() * half);
    if (v < plant.wheelLostBelow[k]) return 0;
    const ring = plant.toneRing[k] * Math.sin(b.distance / radius + k);
    const hop = k < 2 ? b.hopFront : b.hopRear;
    // A smaller tyre turns faster than its nominal size says.
    return Math.max(
      0,
      (plant.wheelFactor[k] / plant.circumference[k]) * v * (1 + ring + b.road) + (k % 2 === 0 ? hop : -0.8 * hop),
    );
  };
  const steered = () => 1 / Math.cos((b.steering / car.body.steeringRatio) * (Math.PI / 180)) - 1;
  add('wheelSpeed.frontLeft', () => wheel(0, b.frontAxle, driveline.radiusFront, 1, steered()));
  add('wheelSpeed.frontRight', () => wheel(1, b.frontAxle, driveline.radiusFront, -1, steered()));
  add('wheelSpeed.rearLeft', () => wheel(2, b.rearAxle, driveline.radiusRear, 1, 0));
  add('wheelSpeed.rearRight', () => wheel(3, b.rearAxle, driveline.radiusRear, -1, 0));
  add('longitudinalAcceleration', () => b.acceleration + (9.80665 * b.grade) / Math.sqrt(1 + b.grade * b.grade));
  add('lateralAcceleration', () => yaw() * b.speed);
  add('yawRate', () => yaw() * (180 / Math.PI));
  add('steeringAngle', () => b.steering + plant.steeringOffset);
  const axle = () => (car.driveline.driven === 'front' ? b.frontAxle : b.rearAxle);
  add('outputShaftSpeed', () => axle() * car.transmission.finalDrive * RPM);
  if (car.transmission.kind === 'dual-clutch') {
    add(
      'inputShaftSpeed.clutch1',
      () => Math.abs(b.ratio1 * axle()) * (1 + b.road) * RPM + (b.gear % 2 !== 0 && b.gear > 0 ? b.judder : 0),
    );
    add(
      'inputShaftSpeed.clutch2',
      () => Math.abs(b.ratio2 * axle()) * (1 + b.road) * RPM + (b.gear % 2 === 0 || b.gear < 0 ? b.judder : 0),
    );
    add('clutchTorque.clutch1', () => b.torque1);
    add('clutchTorque.clutch2', () => b.torque2);
    add('clutchSlip', () =>
      b.gear === 0
        ? 0
        : (b.engineSpeed - Math.abs((b.gear % 2 === 0 || b.gear < 0 ? b.ratio2 : b.ratio1) * axle())) * RPM,
    );
  } else if (car.transmission.kind === 'converter') {
    add('inputShaftSpeed', () => driveline.turbine * RPM);
    add('converterSlip', () => (b.engineSpeed - driveline.turbine) * RPM);
    add('converterClutchState', () => (b.lockUp === 0 ? 0 : plant.lockUpSlip > 0 ? 1 : 2));
  }
  if (car.transmission.kind === 'dual-clutch') {
    for (const k of [0, 1] as const) {
      add(`clutchTouchPoint.clutch${k + 1}`, () => plant.touchPoint[k]);
      add(`clutchAdaptation.clutch${k + 1}`, () => plant.clutchCorrection[k]);
    }
  }
  if (car.transmission.kind !== 'manual') {
    add('transmissionOilPressure', () => b.linePressure);
    add('transmissionOilPressureTarget', () => b.linePressureTarget);
  }
  add('shiftActive', () => b.shifting);
  if (car.driveline.driven === 'all') add('couplingDuty', () => b.coupling * 100);
  add('gpsSpeed', () => b.speed * 3.6);
  add('altitude', () => b.altitude);
  add('odometer', () => plant.memory.odometers[0]!.km + b.distance / 1000);
  return list;
}
