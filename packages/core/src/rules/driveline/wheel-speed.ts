import { ACCELERATION } from '../../derived/acceleration.js';
import { COAST_DOWN } from '../../derived/coast-down.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import { SAMPLES } from '../../derived/samples.js';
import { SPEED } from '../../derived/speed.js';
import { STRAIGHT } from '../../derived/straight.js';
import { median } from '../../math/quantile.js';
import { defineRule, type LimitDefinition } from '../rule.js';
import { COAST_DRIVES } from './wheel-speed-coast.js';
import { judgeWheels } from './wheel-speed-judgement.js';
import { deviationsOf, dropOutsOf, type Offset, steeringOffset, stretchOf, WHEELS } from './wheel-speed-reading.js';

const CP = 'common practice, no source';
const limit = (name: string, value: number, unit: string, comparison: '>' | '>=', about: string): LimitDefinition => ({
  name,
  value,
  unit,
  comparison,
  source: CP,
  about,
});
export const wheelSpeed = defineRule({
  id: 'driveline.wheel-speed',
  system: 'driveline',
  question: 'Does a wheel speed sensor lie, does a brake drag, does the car run straight?',
  why: 'Brakes, stability control and the all-wheel coupling act on these four speeds; a crooked car tells of an accident or of worn suspension.',
  weight: 2,
  slow: true,
  needs: {
    channels: ['wheelSpeed'],
    optional: ['steeringAngle', 'yawRate', 'vehicleSpeed', 'brakeSwitch', 'pedalPosition', 'engineSpeed', 'selector'],
    derived: [SPEED, STRAIGHT, ACCELERATION, SAMPLES, COAST_DOWN],
    conditions: ['straight driving for >= 20 s', 'pull-aways and stops through 3 to 15 km/h'],
  },
  limits: [
    limit('sensor-repair', 3, '%', '>', 'one wheel against the middle of the other three, straight ahead'),
    limit('drop-out-repair', 3, '1', '>=', 'times that one wheel reads nothing while the others roll at 3 to 15 km/h'),
    limit('offset-watch', 3, 'deg', '>', 'steering angle when the car does not turn'),
    limit('offset-repair', 8, 'deg', '>', 'steering angle when the car does not turn'),
    limit(
      'coast-watch',
      25,
      '%',
      '>',
      'deceleration of the freely rolling car against its own usual, over three drives or more',
    ),
  ],
  method:
    'Each wheel is compared with the middle of the other three in straight driving without brakes. A drop-out is a wheel that reads nothing for a quarter of a second while the others roll slowly. The steering offset is the angle at zero yaw rate, by a line through angle and curvature. ' +
    `A dragging brake shows in how the car rolls freely (in neutral, no brake): of ${COAST_DRIVES} drives or more with three coasts each, the worst is held against the second best.`,
  decoys: [
    'road crown: about a degree of steering; it is part of the uncertainty, and the limit is beyond it',
    'bends: straight driving only, and the offset is taken at zero curvature',
    'wheels locked by hard braking: no drop-out',
    'the floor of a good sensor at 2 to 3 km/h: all wheels lose it together, and slower speeds do not count',
    'tyres of another size or pressure: they differ by less than the limit',
    'an offset of the yaw sensor: its value at rest is taken off',
    'wind and slope: neither changes how wheels roll against one another; how the car rolls carries both as uncertainty, and a recorded altitude takes the slope out',
    'a foot on the brake: without a brake switch no coast counts',
  ],
  cautions: [
    'Do not trust anti-lock brakes and stability control with a lying wheel sensor.',
    'Roll in neutral only where law and maker permit it, on a level empty road, with the engine running: brakes and steering need it.',
  ],
  proves:
    'Half a minute straight ahead above 40 km/h, and three gentle stops and pull-aways, with four wheel speeds, steering angle and yaw rate at 5 Hz or more. For a dragging brake, on three days or more: three coasts in neutral from 90 to 50 km/h, both ways, with the brake switch.',
  observe(view) {
    const channels = WHEELS.map((w) => view.optional(`wheelSpeed.${w}` as 'wheelSpeed'));
    const [fl, fr, rl, rr] = channels;
    if (!fl || !fr || !rl || !rr)
      return refuse('the speeds of all four wheels are not recorded', { channels: ['wheelSpeed'] });
    const samples = view.derive(SAMPLES);
    if (isRefusal(samples)) return samples;
    const wheels = [fl, fr, rl, rr].map((channel) => samples.held(channel.id)!);
    const straight = view.derive(STRAIGHT);
    const speed = view.derive(SPEED);
    const acceleration = view.derive(ACCELERATION);
    const usable = isRefusal(straight) ? new Uint8Array(view.time.length) : straight.mask;
    const hz = Math.min(...[fl, fr, rl, rr].map((channel) => samples.hz(channel.id)));
    let slow = 0;
    for (let i = 0; i < usable.length; i++) {
      const a = wheels[0]![i]!;
      const b = wheels[1]![i]!;
      const c = wheels[2]![i]!;
      const d = wheels[3]![i]!;
      // The middle lies between the least and the most: a median is needed where one of these is slow.
      if (!(Math.max(a, b, c, d) < 3 || Math.min(a, b, c, d) > 15)) {
        const v = median([a, b, c, d]);
        if (v >= 3 && v <= 15) slow += samples.spacing;
      }
    }
    const steering = view.optional('steeringAngle');
    const yaw = view.optional('yawRate');
    let offset: Offset | undefined;
    if (steering && yaw && !steering.quality.constant && !yaw.quality.constant && !isRefusal(speed)) {
      const angle = samples.held(steering.id)!;
      const rate = samples.held(yaw.id)!;
      const rest: number[] = [];
      for (let i = 0; i < rate.length; i++) if (speed.values[i]! < speed.standing) rest.push(rate[i]!);
      offset = steeringOffset(
        angle,
        rate,
        rest.length * samples.spacing >= 2 ? median(rest) : 0,
        speed.values,
        usable,
        samples,
      );
    }
    const coast = view.derive(COAST_DOWN);
    return {
      deviations: deviationsOf(wheels, usable, samples),
      straight: stretchOf(usable, view.time),
      dropOuts: dropOutsOf(wheels, isRefusal(acceleration) ? undefined : acceleration.values, view.time),
      slow,
      offset: offset === undefined || Number.isNaN(offset.value) ? undefined : offset,
      coast: isRefusal(coast) ? undefined : coast,
      hz,
      certain: [fl, fr, rl, rr],
    };
  },
  judge: judgeWheels,
});
