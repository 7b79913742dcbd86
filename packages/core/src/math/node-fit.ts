/** Samples between the nodes of a table: each is a weighted mean of at most `width` nodes. */
export interface NodeSamples {
  readonly nodes: number;
  /** Nodes a sample (2 on a line, 4 on a plane); entries of a sample stand together. */
  readonly width: number;
  readonly index: Int32Array;
  readonly weight: Float64Array;
  readonly y: Float64Array;
  /** Stretch that each sample belongs to, 0, 1, …: samples of one stretch hang together, stretches do not. */
  readonly cluster: Int32Array;
  /** Neighbouring triples of nodes: their second difference is held small. */
  readonly bends: readonly (readonly [number, number, number])[];
  /**
   * Neighbouring pairs of nodes: where no triple holds a pair, its difference is held small, or samples that all lie between two
   * rows of nodes would be carried on by a slope that they hardly show.
   */
  readonly steps: readonly (readonly [number, number])[];
}

export interface NodeFit {
  /** NaN at nodes that no sample touches. */
  readonly values: Float64Array;
  /** Standard error by the stretches (they, not the samples, are independent); NaN where `values` is, or below 2 stretches. */
  readonly errors: Float64Array;
  /** Weight of the bends that predicted left-out stretches best, over the mean weight of a node. */
  readonly smoothing: number;
}

const SMOOTHINGS = [0.001, 0.01, 0.1, 1, 10];
const FOLDS = 5;

/**
 * No NaN allowed; no samples give NaN throughout. Values of the nodes by least squares on the interpolation weights with
 * a penalty on second differences (Eilers & Marx, Statistical Science 11 (1996) 89-121), its weight by cross-validation
 * over stretches; standard errors clustered by stretch (Liang & Zeger, Biometrika 73 (1986) 13-22).
 */
export function nodeFit(samples: NodeSamples): NodeFit {
  const { nodes, width, index, weight, y, cluster } = samples;
  const place = new Int32Array(nodes).fill(-1);
  const active: number[] = [];
  for (let e = 0; e < index.length; e++) {
    const node = index[e]!;
    if (weight[e]! > 0 && place[node] === -1) {
      place[node] = active.length;
      active.push(node);
    }
  }
  const k = active.length;
  const values = new Float64Array(nodes).fill(Number.NaN);
  const errors = new Float64Array(nodes).fill(Number.NaN);
  if (k === 0) return { values, errors, smoothing: Number.NaN };
  const placed = (all: readonly (readonly number[])[]): number[][] =>
    all.map((nodes) => nodes.map((node) => place[node]!)).filter((at) => at.every((each) => each >= 0));
  const triples = placed(samples.bends);
  const held = new Set(triples.flatMap(([a, b, c]) => [`${a}/${b}`, `${b}/${c}`]));
  const bends = [...triples, ...placed(samples.steps).filter(([a, b]) => !held.has(`${a}/${b}`))];
  const folds = Math.min(FOLDS, new Set(cluster).size);
  const parts = Array.from({ length: Math.max(1, folds) }, () => normalOf(k));
  for (let i = 0; i < y.length; i++) {
    const part = parts[cluster[i]! % parts.length]!;
    for (let a = 0; a < width; a++) {
      const p = place[index[i * width + a]!]!;
      const wa = weight[i * width + a]!;
      if (!(wa > 0)) continue;
      part.right[p]! += wa * y[i]!;
      for (let b = 0; b < width; b++) {
        const wb = weight[i * width + b]!;
        if (wb > 0) part.matrix[p * k + place[index[i * width + b]!]!]! += wa * wb;
      }
    }
    part.squares += y[i]! ** 2;
  }
  const whole = sumOf(parts, k);
  const smoothing = folds < 3 ? 0.1 : best(parts, whole, bends, k);
  const inverse = inverseOf(penalised(whole.matrix, bends, k, smoothing), k);
  const found = product(inverse, whole.right, k);
  const variance = clustered(samples, place, found, inverse, k);
  active.forEach((node, a) => {
    values[node] = found[a]!;
    errors[node] = Math.sqrt(variance[a]!);
  });
  return { values, errors, smoothing };
}

interface Normal {
  readonly matrix: Float64Array;
  readonly right: Float64Array;
  squares: number;
}

function normalOf(k: number): Normal {
  return { matrix: new Float64Array(k * k), right: new Float64Array(k), squares: 0 };
}

function sumOf(parts: readonly Normal[], k: number): Normal {
  const all = normalOf(k);
  for (const { matrix, right, squares } of parts) {
    for (let i = 0; i < matrix.length; i++) all.matrix[i]! += matrix[i]!;
    for (let i = 0; i < k; i++) all.right[i]! += right[i]!;
    all.squares += squares;
  }
  return all;
}

/** Smoothing whose fit without a fold comes nearest to that fold, all folds together. */
function best(parts: readonly Normal[], whole: Normal, bends: readonly (readonly number[])[], k: number): number {
  let found = SMOOTHINGS[0]!;
  let least = Number.POSITIVE_INFINITY;
  for (const smoothing of SMOOTHINGS) {
    let error = 0;
    for (const part of parts) {
      const rest = whole.matrix.map((x, i) => x - part.matrix[i]!);
      const right = whole.right.map((x, i) => x - part.right[i]!);
      const z = solved(penalised(rest, bends, k, smoothing), right, k);
      // |y - Xz|^2 of the fold, from its own sums.
      const applied = product(part.matrix, z, k);
      error += part.squares;
      for (let a = 0; a < k; a++) error += z[a]! * (applied[a]! - 2 * part.right[a]!);
    }
    if (error < least) {
      least = error;
      found = smoothing;
    }
  }
  return found;
}

function penalised(
  matrix: Float64Array,
  bends: readonly (readonly number[])[],
  k: number,
  smoothing: number,
): Float64Array {
  const found = matrix.slice();
  let trace = 0;
  for (let a = 0; a < k; a++) trace += matrix[a * k + a]!;
  const unit = trace / k;
  for (const bend of bends) {
    const [weights, strength] = bend.length === 3 ? [BEND, smoothing] : [STEP, STEP_STRENGTH];
    for (let a = 0; a < bend.length; a++)
      for (let b = 0; b < bend.length; b++)
        found[bend[a]! * k + bend[b]!]! += strength * unit * weights[a]! * weights[b]!;
  }
  // What neither sample nor bend holds stays at 0, and is not used.
  for (let a = 0; a < k; a++) found[a * k + a]! += 1e-9 * unit + Number.MIN_VALUE;
  return found;
}

const BEND = [1, -2, 1] as const;
const STEP = [1, -1] as const;
/** Little beside samples that span the way between two nodes, much beside samples in a tenth of it. */
const STEP_STRENGTH = 0.02;

/** Solution of a symmetric positive definite system by Cholesky's factors (Golub & Van Loan, Matrix Computations, ch. 4.2). */
function solved(own: Float64Array, right: Float64Array, k: number): Float64Array {
  const l = own.slice();
  const x = right.slice();
  for (let r = 0; r < k; r++) {
    for (let c = 0; c <= r; c++) {
      let sum = l[r * k + c]!;
      for (let j = 0; j < c; j++) sum -= l[r * k + j]! * l[c * k + j]!;
      l[r * k + c] = r === c ? Math.sqrt(sum) : sum / l[c * k + c]!;
    }
    let rest = x[r]!;
    for (let j = 0; j < r; j++) rest -= l[r * k + j]! * x[j]!;
    x[r] = rest / l[r * k + r]!;
  }
  for (let r = k - 1; r >= 0; r--) {
    let rest = x[r]!;
    for (let j = r + 1; j < k; j++) rest -= l[j * k + r]! * x[j]!;
    x[r] = rest / l[r * k + r]!;
  }
  return x;
}

/** Inverse of a symmetric positive definite matrix by Gauss-Jordan without pivoting, which such a matrix allows. */
function inverseOf(matrix: Float64Array, k: number): Float64Array {
  const a = matrix.slice();
  const inverse = new Float64Array(k * k);
  for (let i = 0; i < k; i++) inverse[i * k + i] = 1;
  for (let c = 0; c < k; c++) {
    const pivot = a[c * k + c]!;
    for (let j = 0; j < k; j++) {
      a[c * k + j]! /= pivot;
      inverse[c * k + j]! /= pivot;
    }
    for (let r = 0; r < k; r++) {
      const factor = a[r * k + c]!;
      if (r === c || factor === 0) continue;
      for (let j = 0; j < k; j++) {
        a[r * k + j]! -= factor * a[c * k + j]!;
        inverse[r * k + j]! -= factor * inverse[c * k + j]!;
      }
    }
  }
  return inverse;
}

function product(matrix: Float64Array, x: Float64Array, k: number): Float64Array {
  const found = new Float64Array(k);
  for (let a = 0; a < k; a++) for (let b = 0; b < k; b++) found[a]! += matrix[a * k + b]! * x[b]!;
  return found;
}

/** Diagonal of inverse (sum over stretches of g g') inverse, with the factor m / (m - 1) for m stretches. */
function clustered(
  { width, index, weight, y, cluster }: NodeSamples,
  place: Int32Array,
  nodes: Float64Array,
  inverse: Float64Array,
  k: number,
): Float64Array {
  const scores = new Map<number, Float64Array>();
  for (let i = 0; i < y.length; i++) {
    let residual = y[i]!;
    for (let a = 0; a < width; a++) {
      const w = weight[i * width + a]!;
      if (w > 0) residual -= w * nodes[place[index[i * width + a]!]!]!;
    }
    let score = scores.get(cluster[i]!);
    if (score === undefined) {
      score = new Float64Array(k);
      scores.set(cluster[i]!, score);
    }
    for (let a = 0; a < width; a++) {
      const w = weight[i * width + a]!;
      if (w > 0) score[place[index[i * width + a]!]!]! += w * residual;
    }
  }
  const variance = new Float64Array(k);
  const m = scores.size;
  if (m < 2) return variance.fill(Number.NaN);
  for (const score of scores.values()) {
    const moved = product(inverse, score, k);
    for (let a = 0; a < k; a++) variance[a]! += (m / (m - 1)) * moved[a]! ** 2;
  }
  return variance;
}
