import type { Random } from './random.js';

/** Speed wanted over time (m/s every 0.1 s), built segment by segment. */
export class Trace {
  readonly values: number[] = [];
  constructor(private speed: number) {
    this.values.push(speed);
  }
  get duration(): number {
    return (this.values.length - 1) * 0.1;
  }
  get end(): number {
    return this.speed;
  }
  to(target: number, acceleration: number): this {
    const step = Math.max(0.05, Math.abs(acceleration)) * 0.1;
    while (Math.abs(target - this.speed) > step) {
      this.speed += Math.sign(target - this.speed) * step;
      this.values.push(this.speed);
    }
    this.speed = target;
    this.values.push(target);
    return this;
  }
  hold(seconds: number, ripple = 0, random?: Random): this {
    const n = Math.round(seconds * 10);
    const period = random ? random.range(8, 16) : 12;
    const base = this.speed;
    for (let i = 1; i <= n; i++) {
      const fade = Math.min(1, i / 30, (n - i) / 30);
      this.values.push(base + ripple * fade * Math.sin((2 * Math.PI * i) / (10 * period)));
    }
    return this;
  }
  /** Value at a time, linear between points; the last one afterwards. */
  at(time: number): number {
    const x = time * 10;
    const i = x | 0;
    if (i >= this.values.length - 1) return this.values[this.values.length - 1]!;
    if (i < 0) return this.values[0]!;
    return this.values[i]! + (this.values[i + 1]! - this.values[i]!) * (x - i);
  }
}

const KMH = 1 / 3.6;

/** Stop-and-go between standstill and a limit (km/h) for about that many seconds, starting at a speed in m/s. */
export function townTrace(random: Random, start: number, seconds: number, limit: number): Trace {
  const trace = new Trace(start);
  while (trace.duration < seconds) {
    const goal = random.range(0.55, 1.05) * limit * KMH;
    trace.to(goal, random.range(0.9, 1.9)).hold(random.range(4, 18), random.range(0, 0.7), random);
    if (random.chance(0.45))
      trace.to(random.range(0.2, 0.5) * limit * KMH, random.range(0.8, 1.6)).hold(random.range(2, 6));
    else trace.to(0, random.range(1, 2)).hold(random.range(3, 12));
  }
  return trace;
}

/** Steady run at a speed (km/h) with slow wandering; `vary` is the spread (km/h) between sections of about 40 s. */
export function cruiseTrace(random: Random, start: number, seconds: number, speed: number, vary: number): Trace {
  const trace = new Trace(start).to(speed * KMH, start > speed * KMH ? 0.9 : 1.1);
  const until = trace.duration + seconds;
  while (trace.duration < until) {
    trace.hold(Math.min(40, Math.max(3, until - trace.duration)), random.range(0.1, 0.6), random);
    if (vary > 0 && trace.duration < until) trace.to((speed + random.range(-vary, vary)) * KMH, random.range(0.5, 1));
  }
  return trace;
}

/** Straights at full load and hard brakings, about `seconds` long; speeds in km/h. */
export function circuitTrace(
  random: Random,
  start: number,
  seconds: number,
  top: number,
  corner: number,
  braking: readonly [number, number] = [6.4, 8],
  acceleration: readonly [number, number] = [3, 4.5],
): Trace {
  const trace = new Trace(start);
  while (trace.duration < seconds) {
    trace.to(random.range(0.8, 1) * top * KMH, random.range(...acceleration)).hold(random.range(0.5, 3));
    trace.to(random.range(0.9, 1.25) * corner * KMH, random.range(...braking)).hold(random.range(2, 4), 0.5, random);
  }
  return trace;
}

/** Repeated accelerations between two speeds (km/h) at a given rate (m/s2). */
export function rollingTrace(start: number, from: number, to: number, acceleration: number, repeats: number): Trace {
  const trace = new Trace(start).to(from * KMH, 1.2).hold(2);
  for (let i = 0; i < repeats; i++) {
    trace.to(to * KMH, acceleration).hold(2);
    trace.to(from * KMH, 1.3).hold(3);
  }
  return trace;
}

/** A given speed schedule (km/h every `interval` seconds), linear between its points. */
export function cycleTrace(speeds: ArrayLike<number>, interval: number): Trace {
  const trace = new Trace(0);
  const n = Math.round((speeds.length - 1) * interval * 10);
  for (let i = 1; i <= n; i++) {
    const x = i / (10 * interval);
    const k = Math.min(speeds.length - 2, Math.floor(x));
    trace.values.push((speeds[k]! + (speeds[k + 1]! - speeds[k]!) * (x - k)) * KMH);
  }
  return trace;
}
