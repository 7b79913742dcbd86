import type { Bus } from './bus.js';
import type { Plant } from './plant.js';

const RPM = 30 / Math.PI;
/** Steps in which a control unit changes the wanted phase, deg of the crank. */
const STEP = 0.5;

/** Intake camshafts on hydraulic phasers: a target over speed and load, followed by a slew rate that oil pressure sets. */
export class ValveTrain {
  target = 0;
  readonly actual: [number, number] = [0, 0];

  constructor(private readonly plant: Plant) {}

  step(b: Bus, dt: number): void {
    const rpm = b.engineSpeed * RPM;
    const load = Math.min(1, b.strokeShare);
    // Little overlap at idle, much at middle load and speed, back again towards full speed.
    const reach = 38 * Math.min(1, Math.max(0, (rpm - 900) / 1400)) * (1 - 0.6 * Math.max(0, (rpm - 4000) / 3500));
    const wanted =
      b.running === 1 && b.oil > 20
        ? Math.max(0, reach * (0.35 + 0.65 * Math.sin(Math.PI * Math.min(1, 0.15 + 0.75 * load))))
        : 0;
    if (Math.abs(wanted - this.target) > 2 * STEP) this.target = Math.round(wanted / STEP) * STEP;
    const slew =
      160 * Math.min(1, Math.max(0.02, (b.oilPressure - 0.4) / 1.5)) * Math.min(1, Math.max(0.1, b.oil / 60));
    for (const k of [0, 1] as const) {
      const aim = Math.min(this.target, this.plant.camReach[k]) + this.plant.camOffset[k];
      const gap = aim - this.actual[k];
      this.actual[k] += Math.sign(gap) * Math.min(Math.abs(gap), slew * dt, (Math.abs(gap) * dt) / 0.06 + 1e-9);
    }
  }

  /** What the control unit logs for a bank, deg. */
  logged(bank: number): number {
    return this.actual[bank === 1 ? 1 : 0] * (this.plant.camDegrees ? 0.5 : 1);
  }
}
