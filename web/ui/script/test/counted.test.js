import assert from "node:assert/strict";
import test from "node:test";
import { columns } from "../columns.ts";
import { hollow, remark, spells, untold } from "../counted.ts";

const MINUTE = 60e3;
const plan = { words: { air: "probe in air", spike: "outlier" }, strips: [{ lines: [{ sensor: "ph", name: "pH" }], switches: [] }] };
const clock = { say: (ms) => `at ${ms / MINUTE}` };
const series = (t, quality, screened = true) => columns({ sensor: "ph", unit: "pH", gap_ms: 3 * MINUTE, screened, t: [], min: [], mean: [], max: [],
  not_counted: { t: t.map((m) => m * MINUTE), min: t, mean: t, max: t, n: t.map(() => 1), quality } });

test("what does not count is joined as a line is, for one reason at a time", () => {
  const c = series([1, 2, 3, 9, 10, 11], ["air", "air", "air", "air", "spike", "spike"]);
  assert.deepEqual(spells(c.apart, c.gap).map((s) => [s.from / 60, s.to / 60, s.why, s.lo, s.hi]), [[1, 3, "air", 1, 3], [9, 9, "air", 9, 9], [10, 11, "spike", 10, 11]]);
});
test("in words, within what is seen", () => {
  const store = new Map([["ph", series([1, 2, 3, 10, 90], ["air", "air", "air", "spike", "air"])]]);
  assert.equal(hollow(plan, store, clock, { from: 0, to: 60 * MINUTE }), "Not counted, and drawn hollow: pH (probe in air at 1 to 3 and outlier at 10).");
  assert.equal(hollow(plan, store, clock, { from: 20 * MINUTE, to: 60 * MINUTE }), "");
});
test("many are counted", () => {
  const store = new Map([["ph", series([10, 20, 30, 40], ["spike", "spike", "spike", "spike"])]]);
  assert.equal(hollow(plan, store, clock, { from: 0, to: 60 * MINUTE }), "Not counted, and drawn hollow: pH (outlier 4 times, the last at 40).");
});
test("what cannot be told is said", () => {
  const day = { from: 0, to: 86400e3 }, month = { from: 0, to: 30 * 86400e3 };
  assert.equal(untold(new Map([["ph", series([1], ["air"])]]), day), "");
  assert.match(untold(new Map([["ph", series([1], ["air"], false)]]), day), /cannot be shown apart/);
  assert.match(untold(new Map([["ph", series([1], ["air"], false)]]), month), /more than eight days/);
});
test("a value says that it does not count, or that others beside it do not", () => {
  assert.equal(remark(plan, { v: 1, poor: true, why: "air" }), " (not counted: probe in air)");
  assert.equal(remark(plan, { v: 1, poor: true, why: "" }), " (not counted)");
  assert.equal(remark(plan, { v: 1, poor: false, why: "spike" }), " (others not counted: outlier)");
  assert.equal(remark(plan, { v: 1, poor: false, why: "" }), "");
});
