import type { Simulation } from '../simulate.js';
import { type FaultFamily, insertWarm, nearest, type TrueFinding } from './fault.js';
import { signalOf } from './settled.js';

/** driveline.tyre-circumference: worn or wrong tyres on one axle (%), or on one side of it. */
export const tyreCircumference: FaultFamily = {
  rule: 'driveline.tyre-circumference',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const [low, high] = level === 'under' ? [0.1, 0.5] : level === 'watch' ? [0.95, 1.35] : [1.75, 3];
    const percent = low + (high - low) * dial;
    const front = random.chance(0.5);
    const size = 1 - percent / 100;
    // Up to the watch limit of one axle, a single wheel shows it too.
    const single = level === 'watch' && random.chance(0.4);
    draft.disturb.push((plant) => {
      const one: [number, number, number, number] = [1, 1, 1, 1];
      one[front ? 0 : 2] = size;
      if (!single) one[front ? 1 : 3] = size;
      plant.circumference = one;
    });
    insertWarm(draft.script, [
      { kind: 'cruise', speed: random.range(65, 85), duration: 150 },
      { kind: 'cruise', speed: random.range(80, 95), duration: 110 },
    ]);
    draft.kept.add('wheelSpeed');
    return { rule: this.rule, level, note: `${percent.toFixed(2)} % smaller`, dialled: { percent } };
  },
  truth,
  decoys: {
    pressures(draft, random) {
      const share = () => 1 + random.range(-0.001, 0.001);
      const each: [number, number, number, number] = [share(), share(), share(), share()];
      draft.disturb.push((plant) => {
        plant.circumference = each;
      });
    },
    seasonalSet(draft, random) {
      const all = 1 + random.range(-0.025, 0.025);
      draft.disturb.push((plant) => {
        plant.circumference = [all, all, all, all];
      });
    },
    drivenCreep(draft, random) {
      draft.ambient = { ...draft.ambient, grip: 0.7 };
      insertWarm(draft.script, [{ kind: 'cruise', speed: 85, duration: 150, grade: random.range(0.04, 0.06) }]);
    },
    bends(draft) {
      insertWarm(draft.script, [{ kind: 'town', duration: 120, limit: 70 }]);
    },
  },
};

function truth(sim: Simulation): TrueFinding {
  // A sensor that reads wrong looks the same to this rule.
  const rolls = sim.plant.circumference.map((c, k) => c / sim.plant.wheelFactor[k]!);
  const [fl, fr, rl, rr] = rolls as [number, number, number, number];
  const axle = 100 * Math.log((rl + rr) / (fl + fr));
  const sides = [100 * Math.log(fr / fl), 100 * Math.log(rr / rl)];
  const side = Math.max(...sides.map(Math.abs));
  const kilometres = straight(sim);
  const level = Math.abs(axle) > 1.5 ? 'repair' : Math.abs(axle) > 0.7 || side > 0.5 ? 'watch' : 'none';
  return {
    level: kilometres >= 3 ? level : 'none',
    measures: { axle, front: sides[0]!, rear: sides[1]!, distance: kilometres },
    // A drive too short to tell is no case.
    margin: kilometres < 4.5 ? 0 : Math.min(nearest(Math.abs(axle), [0.7, 1.5]), nearest(side, [0.5])),
  };
}

/** km at 50 to 100 km/h without brakes and almost straight. */
function straight(sim: Simulation): number {
  const speed = signalOf(sim, 'gpsSpeed');
  const yaw = signalOf(sim, 'yawRate');
  const brake = signalOf(sim, 'brakeSwitch');
  let metres = 0;
  for (let i = 0; i < speed.length; i++)
    if (speed[i]! >= 50 && speed[i]! <= 100 && Math.abs(yaw[i]!) < 2.5 && brake[i]! === 0)
      metres += speed[i]! / 3.6 / sim.rate;
  return metres / 1000;
}
