/**
 * Small seeded generator. sfc32 ("small fast counter", Chris Doty-Humphrey, PractRand, public domain), seeded through
 * splitmix32 (the 32-bit finaliser of MurmurHash3 over a Weyl sequence). Written from memory of the published code.
 */
export class Random {
  private a: number;
  private b: number;
  private c: number;
  private d: number;
  private spare = Number.NaN;

  /** `stream` separates independent uses of one seed. */
  constructor(seed: number, stream = 0) {
    let state = (seed ^ Math.imul(stream + 1, 0x85ebca6b)) | 0;
    const next = () => {
      state = (state + 0x9e3779b9) | 0;
      let z = state ^ (state >>> 16);
      z = Math.imul(z, 0x21f0aaad);
      z ^= z >>> 15;
      z = Math.imul(z, 0x735a2d97);
      return z ^ (z >>> 15);
    };
    this.a = next();
    this.b = next();
    this.c = next();
    this.d = 1;
    for (let i = 0; i < 12; i++) this.bits();
  }

  private bits(): number {
    const t = (((this.a + this.b) | 0) + this.d) | 0;
    this.d = (this.d + 1) | 0;
    this.a = this.b ^ (this.b >>> 9);
    this.b = (this.c + (this.c << 3)) | 0;
    this.c = (this.c << 21) | (this.c >>> 11);
    this.c = (this.c + t) | 0;
    return t >>> 0;
  }

  /** Uniform in [0, 1). */
  next(): number {
    return this.bits() / 4294967296;
  }

  /** Uniform in [low, high). */
  range(low: number, high: number): number {
    return low + (high - low) * this.next();
  }

  /** Whole number in low..high, both included. */
  int(low: number, high: number): number {
    return low + Math.floor(this.next() * (high - low + 1));
  }

  chance(p: number): boolean {
    return this.next() < p;
  }

  pick<T>(list: readonly T[]): T {
    if (list.length === 0) throw new Error('nothing to pick from: the list is empty');
    return list[Math.floor(this.next() * list.length)]!;
  }

  /** Standard normal (polar method of Marsaglia and Bray, 1964). */
  normal(): number {
    if (!Number.isNaN(this.spare)) {
      const kept = this.spare;
      this.spare = Number.NaN;
      return kept;
    }
    for (;;) {
      const u = 2 * this.next() - 1;
      const v = 2 * this.next() - 1;
      const s = u * u + v * v;
      if (s > 0 && s < 1) {
        const f = Math.sqrt((-2 * Math.log(s)) / s);
        this.spare = v * f;
        return u * f;
      }
    }
  }
}
