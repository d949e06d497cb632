import assert from "node:assert/strict";
import test from "node:test";
import { align, append, columns, valueAt } from "../columns.ts";
import { bare } from "../words.ts";

const r = (t, v, gap) => ({ sensor: "ph", unit: "pH", gap_ms: gap, t, min: v, mean: v, max: v });

test("milliseconds become seconds", () => {
  assert.deepEqual(columns(r([1000, 61000], [6.5, 6.6], 180000)).t, [1, 61]);
});
test("a step longer than the gap is a null, a shorter one is not", () => {
  assert.deepEqual(columns(r([0, 60000, 400000], [1, 2, 3], 180000)).mean, [1, 2, null, 3]);
  assert.deepEqual(columns(r([0, 180000], [1, 2], 180000)).mean, [1, 2]);
});
test("x rises strictly, also over a gap", () => {
  const t = columns(r([0, 400000, 800001], [1, 2, 3], 1000)).t;
  for (let i = 1; i < t.length; i++) assert.ok(t[i] > t[i - 1]);
});
test("a live value joins or leaves a gap; a repeat changes nothing", () => {
  const c = columns(r([0], [1], 1000));
  assert.equal(append(c, 0, 9), false);
  assert.equal(append(c, 500, 2), true);
  assert.equal(append(c, 5000, 3), true);
  assert.deepEqual(c.mean, [1, 2, null, 3]);
});
test("alignment keeps a gap null and another's time undefined", () => {
  const [t, , , a, , , b] = align([columns(r([0, 5000], [1, 2], 1000)), columns(r([1000], [7], 0))]);
  assert.deepEqual(t, [0, 1, 2.5, 5]);
  assert.deepEqual(a, [1, undefined, null, 2]);
  assert.deepEqual(b, [undefined, 7, undefined, undefined]);
});
test("nothing is read out of a gap, a switch holds", () => {
  const c = columns(r([0, 1000], [1, 2], 2000));
  assert.deepEqual(valueAt(c, 2500), { v: 2, poor: false, why: "" });
  assert.equal(valueAt(c, 9000), null);
  assert.equal(valueAt(c, 9000, true)?.v, 2);
  assert.equal(valueAt(c, -1), null);
});
test("what is not judged is joined to nothing, and still told", () => {
  const c = columns({ ...r([0, 1000, 2000], [1, 9, 2], 5000), poor: [1], screened: true,
    not_counted: { t: [1000, 2000], min: [9, 7], mean: [9, 7], max: [9, 7], n: [1, 1], quality: ["air", "spike"] } });
  assert.deepEqual(c.mean, [1, null, 2]);
  assert.deepEqual(c.max, [1, null, 2]);
  assert.deepEqual(c.poor, [null, 9, null]);
  assert.deepEqual(valueAt(c, 1500), { v: 9, poor: true, why: "air" });
  assert.deepEqual(valueAt(c, 2500), { v: 2, poor: false, why: "spike" });
  assert.equal(append(c, 3000, 8, "frozen"), true);
  assert.deepEqual(c.apart.map((a) => a.why), ["air", "spike", "frozen"]);
  assert.deepEqual(c.mean, [1, null, 2, null]);
  assert.deepEqual(c.poor, [null, 9, null, 8]);
  assert.equal(align([c]).length, 4);
});
test("numbers as the pages write them", () => {
  assert.equal(bare({ digits: 0, step: 10, sign: false }, 1043), "1,040");
  assert.equal(bare({ digits: 0, step: 0, sign: true }, 3.2), "+3");
  assert.equal(bare({ digits: 0, step: 0, sign: true }, -0.2), "0");
  assert.equal(bare({ digits: 2, step: 0, sign: false }, 6.584), "6.58");
});
