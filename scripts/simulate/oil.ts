import type { Bus } from './bus.js';
import type { CarSpec } from './car.js';
import type { Plant } from './plant.js';

const RPM = 30 / Math.PI;
/** Standing for this long (s) lets the galleries run empty. */
const EMPTIES = 3;

/** Oil pressure: pump flow against viscosity, pump stages and relief valve, empty galleries at a start, a pick-up that sucks air. */
export class Oil {
  /** Seconds of turning since the galleries were empty, and of standing still. */
  private turning = Number.NaN;
  private still = 0;
  /** Seconds for which the oil has been away from the pick-up, and the share of the pressure that is left. */
  private away = 0;
  private left = 1;

  constructor(
    private readonly car: CarSpec,
    private readonly plant: Plant,
  ) {}

  step(b: Bus, dt: number): void {
    const rpm = Math.max(b.engineSpeed, 2) * RPM;
    // A recording that begins with a running engine has its galleries full.
    if (Number.isNaN(this.turning)) this.turning = b.running === 1 ? Number.POSITIVE_INFINITY : 0;
    this.still = rpm < 30 ? this.still + dt : 0;
    if (this.still > EMPTIES) this.turning = 0;
    else if (rpm >= 30) this.turning += dt;
    const { body } = this.car;
    b.lateral = (b.speed * b.speed * Math.tan((b.steering / body.steeringRatio) * (Math.PI / 180))) / body.wheelbase;
    const { from, delay, share } = this.plant.oilSurge;
    this.away = Math.abs(b.lateral) > from ? this.away + dt : 0;
    const aim = this.away > delay ? share : 1;
    this.left += ((aim - this.left) * dt) / (aim < this.left ? 0.1 : 0.25);
    // Thick oil fills the galleries later.
    const fill = this.plant.oilFill * (1 + Math.max(0, 20 - b.oil) / 60);
    const whole = Math.min(b.oilCeiling, oilPressure(rpm, b.oil, b.oilShare)) * (this.turning >= fill ? 1 : 0.03);
    b.oilWhole += ((whole - b.oilWhole) * dt) / 0.12;
    b.oilPressure += ((whole * this.left - b.oilPressure) * dt) / 0.12;
  }
}

/** Gauge oil pressure (bar): pump flow against viscosity, held by the relief valve. */
function oilPressure(rpm: number, oil: number, share: number): number {
  const viscous = 0.55 + 0.9 / (1 + Math.max(0, oil + 20) / 70);
  const p = rpm > 30 ? share * (0.35 + 1.45 * (rpm / 1000)) * viscous : 0;
  return p < 3.6 ? p : 3.6 + 1.2 * (1 - 1 / (1 + (p - 3.6) / 1.2));
}
