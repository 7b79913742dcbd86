import { FULL_LOAD } from '../packages/core/src/derived/full-load.js';
import { samplesOf } from '../packages/core/src/derived/samples.js';
import { driveOf } from '../packages/core/test/rules/helpers.js';
import { plan } from './detection/plan.js';
import { drawDrive, record, simulate } from './simulate/index.js';

const w = plan(12, 30, ['air.throttle-closure', 'air.charge-cooling', 'air.meter-range']).find(
  (t) => t.wish.seed === 12071307,
)!.wish;
const drawn = drawDrive(w);
const sim = simulate(drawn.spec);
const r = record(sim, drawn.record);
const d = driveOf(r.time, Object.fromEntries(r.columns.map((c) => [c.id, c.values])));
const full = d.derive(FULL_LOAD) as any;
const s = samplesOf(d);
const fresh = s.fresh('airMassFlow');
const flow = s.held('airMassFlow')!;
console.log(
  r.columns
    .map((c) => c.id)
    .filter((x) => /ress|edal|ear|rque/.test(x))
    .join(' '),
  s.hz('airMassFlow'),
);
for (const p of full.pieces) {
  if (p.to - p.from < 2) continue;
  let c = 0,
    f = 0;
  for (const i of fresh)
    if (i >= p.start && i <= p.end) {
      f++;
      if (flow[i]! >= 308.52) c++;
    }
  console.log(
    p.pull,
    p.from.toFixed(1),
    p.to.toFixed(1),
    p.gear,
    'fresh',
    f,
    'at top',
    c,
    Math.max(...flow.subarray(p.start, p.end)),
  );
}
