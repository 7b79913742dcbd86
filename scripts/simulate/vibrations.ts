import type { Bus } from './bus.js';
import type { CarSpec } from './car.js';
import type { Plant } from './plant.js';
import type { Transmission } from './transmission.js';

/** Share of the critical damping that is negative while excited, and positive at rest; common practice. */
const GROWTH = 0.25;
const DECAY = 0.15;

/**
 * Self-excited oscillator: friction that falls with speed puts energy in, its cubic term limits it (Rayleigh's equation,
 * The Theory of Sound, vol. 1, 68a). The amplitude of the speed is sqrt(4 / (3 k)) with damping mu (1 - k v^2).
 */
export class SelfExcited {
  speed = 0;
  private travel = 0;

  /** One step; `amplitude` of the limit cycle in the unit of `speed`, 0 = not excited. */
  step(dt: number, frequency: number, amplitude: number): number {
    const w = 2 * Math.PI * frequency;
    let damping = -2 * DECAY;
    if (amplitude > 0) {
      if (Math.abs(this.speed) < 0.02 * amplitude) this.speed += Math.sign(this.speed || 1) * 0.02 * amplitude;
      const share = this.speed / amplitude;
      damping = 2 * GROWTH * Math.max(-4, 1 - (4 / 3) * share * share);
    }
    this.speed += dt * (damping * w * this.speed - w * w * this.travel);
    this.travel += dt * this.speed;
    return this.speed;
  }
}

/** Wavelengths of a rough road, m: setts, joints, washboard; common practice. */
const WAVES = [0.23, 0.31, 0.42, 0.57, 0.79] as const;

/** Vibrations that ride on the motion of the driveline without moving the car: judder of the input shaft, hop of the wheels, a rough road. */
export class Vibrations {
  private readonly torsion = new SelfExcited();
  private readonly front = new SelfExcited();
  private readonly rear = new SelfExcited();
  private crank = 0;

  constructor(
    private readonly car: CarSpec,
    private readonly plant: Plant,
    private readonly transmission: Transmission,
  ) {}

  step(b: Bus, dt: number): void {
    const { plant } = this;
    const speed = 3.6 * b.speed;
    b.brakeDrag = plant.brakeDrag;
    const { judder, hop } = plant;
    const rubbing = this.transmission.slipping && b.torque1 + b.torque2 > 15 && speed > 2 && speed < 15;
    b.judder = this.torsion.step(dt, judder.frequency, rubbing ? judder.amplitude : 0);
    if (plant.roughIdle > 0) {
      this.crank += dt * b.engineSpeed;
      b.judder += b.pedal < 0.3 ? plant.roughIdle * Math.sin(0.5 * this.crank) : 0;
    }
    let waves = 0;
    if (plant.roadShake > 0) for (const wave of WAVES) waves += Math.sin((2 * Math.PI * b.distance) / wave + 40 * wave);
    // The mean square of so many sines is half their number: amplitude as of one.
    b.road = (plant.roadShake * waves) / Math.sqrt(WAVES.length);
    const locked = Math.abs(b.steering) >= 0.82 * this.car.body.steeringLock && speed > 2 && speed < 15;
    b.hopFront = this.front.step(dt, hop.frequency, locked ? hop.front : 0);
    b.hopRear = this.rear.step(dt, hop.frequency * 1.15, locked ? hop.rear : 0);
  }
}
