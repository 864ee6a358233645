package journal

import (
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"github.com/anishathalye/porcupine"
)

// registerInput is an operation on the one register: a read, or a compare-and-set.
type registerInput struct {
	read       bool
	want, next string
}

// registerOutput is what was read, or whether the register was set.
type registerOutput struct {
	value string
	set   bool
}

// registerModel is the register that two logs over one bucket must be indistinguishable from.
var registerModel = porcupine.Model{
	Init: func() any { return "" },
	Step: func(state, input, output any) (bool, any) {
		in, out := input.(registerInput), output.(registerOutput)
		switch {
		case in.read:
			return out.value == state, state
		case state == in.want:
			return out.set, in.next
		}
		return !out.set, state
	},
	DescribeOperation: func(input, output any) string { return fmt.Sprintf("%+v -> %+v", input, output) },
}

// Rule 1: what clients of two logs over one bucket see could have been done by one after the other, even over a weak line.
func TestRule01Linearizable(t *testing.T) {
	const clients, each = 6, 25
	line := weakLine(t, newMemory())
	var logs [2]*Log
	var machines [2]*registers
	for i := range logs {
		machines[i] = newRegisters()
		logs[i] = open(t, line, machines[i], quick())
	}
	var mu sync.Mutex
	var history []porcupine.Operation
	start := time.Now()
	var wg sync.WaitGroup
	for c := range clients {
		wg.Go(func() {
			l, m := logs[c%2], machines[c%2]
			for i := range each {
				in := registerInput{read: rand.N(3) == 0, want: m.value("parties/r"), next: fmt.Sprint(rand.N(4))}
				if rand.N(4) == 0 {
					in.want = fmt.Sprint(rand.N(4))
				}
				var out registerOutput
				call := time.Since(start).Nanoseconds()
				if in.read {
					if _, err := l.Sync(t.Context()); err != nil {
						t.Error(err)
						return
					}
					out.value = m.value("parties/r")
				} else {
					_, err := submitUntilKnown(t, l, op{id: fmt.Sprintf("c%d-%d", c, i), kind: "cas", names: []string{"parties/r"}, want: in.want, value: in.next})
					out.set = err == nil
				}
				back := time.Since(start).Nanoseconds()
				mu.Lock()
				history = append(history, porcupine.Operation{ClientId: c, Input: in, Call: call, Output: out, Return: back})
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	line.sent.Wait()
	if result := porcupine.CheckOperationsTimeout(registerModel, history, 20*time.Second); result != porcupine.Ok {
		t.Errorf("history of %d operations: %v, want %v", len(history), result, porcupine.Ok)
	}
}
