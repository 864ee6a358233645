package journal

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"maps"
	"slices"
	"strconv"
	"sync"
	"time"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
)

// registers is a machine of named registers, kept as parties whose notes are the value.
type registers struct {
	mu       sync.Mutex
	at       Position
	values   map[string]string
	answered map[string]*pb.Answered
	history  map[string][]int64
	tombs    map[string]*pb.Tombstone

	planned   int                      // calls of Plan
	failApply func(seq int64) error    // nil: never
	restores  int                      // calls of Restore
	restored  int                      // lines restored
	sums      map[int64]storage.Digest // of each commit applied, to notice a second application
}

func newRegisters() *registers {
	m := &registers{}
	m.clear()
	return m
}

func (m *registers) clear() {
	m.at = Position{}
	m.values, m.answered = map[string]string{}, map[string]*pb.Answered{}
	m.history, m.tombs = map[string][]int64{}, map[string]*pb.Tombstone{}
	m.sums = map[int64]storage.Digest{}
}

// op is a request to the registers.
type op struct {
	id    string   // request id
	kind  string   // set, cas, add (counts the first register up, sets the others), delete, sweep
	names []string // all of them in one transaction
	want  string   // cas: the value that must be there
	value string
}

var errMismatch = errors.New("register has another value")

func (m *registers) Applied() (int64, storage.Digest) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.at.Seq, m.at.Head
}

func (m *registers) value(name string) string {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.values[name]
}

func (m *registers) Plan(_ context.Context, _ time.Time, reqs []*Request) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.planned++
	ahead, ids := map[string]string{}, map[string]bool{}
	for _, r := range reqs {
		o := r.Payload.(op)
		switch done := m.answered[o.id]; {
		case ids[o.id]: // a twin waits
		case done != nil:
			r.Done = &Receipt{Seq: done.GetSeq(), Time: done.GetTime().AsTime()}
		default:
			if r.Err = m.planOne(r, o, ahead); r.Err == nil {
				ids[o.id] = true
			}
		}
	}
}

func (m *registers) planOne(r *Request, o op, ahead map[string]string) error {
	current := func(name string) string {
		if v, found := ahead[name]; found {
			return v
		}
		return m.values[name]
	}
	t := &pb.Transaction{RequestId: o.id, Actor: "keys/test", Method: o.kind}
	value := o.value
	switch o.kind {
	case "sweep":
		r.Sweep = []string{o.value}
		return nil
	case "cas":
		if have := current(o.names[0]); have != o.want {
			return fmt.Errorf("%w: %q, not %q", errMismatch, have, o.want)
		}
	case "add":
		n, _ := strconv.Atoi(current(o.names[0])) // an empty register counts from 0
		value = strconv.Itoa(n + 1)
	}
	for i, name := range o.names {
		if o.kind == "add" && i > 0 {
			value = o.value
		}
		if o.kind == "delete" {
			ahead[name] = ""
			t.Changes = append(t.Changes, &pb.Change{Name: name, Deleted: true})
			continue
		}
		ahead[name] = value
		t.Changes = append(t.Changes, &pb.Change{Name: name, Record: &pb.Change_Party{Party: &pb.Party{Name: name, DisplayName: "Register", Notes: value}}})
	}
	r.Transaction = t
	return nil
}

func (m *registers) Apply(ctx context.Context, c *Stored) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	seq := c.Commit.GetSeq()
	if ctx.Err() != nil {
		return errors.New("applied under a context that has ended")
	}
	if m.failApply != nil {
		if err := m.failApply(seq); err != nil {
			return err
		}
	}
	if seq != m.at.Seq+1 {
		return fmt.Errorf("commit %d applied after %d", seq, m.at.Seq)
	}
	for _, t := range c.Commit.GetTransactions() {
		if m.answered[t.GetRequestId()] != nil {
			return fmt.Errorf("request %s answered twice", t.GetRequestId())
		}
		m.answered[t.GetRequestId()] = &pb.Answered{RequestId: t.GetRequestId(), Seq: seq, Time: c.Commit.GetTime(), Method: t.GetMethod(), Actor: t.GetActor()}
		for _, change := range t.GetChanges() {
			m.change(seq, change)
		}
	}
	m.at = c.position()
	m.sums[seq] = c.Digest
	return nil
}

func (m *registers) change(seq int64, c *pb.Change) {
	m.history[c.GetName()] = append(m.history[c.GetName()], seq)
	if c.GetDeleted() {
		delete(m.values, c.GetName())
		m.tombs[c.GetName()] = &pb.Tombstone{Name: c.GetName(), Seq: seq}
		return
	}
	delete(m.tombs, c.GetName())
	m.values[c.GetName()] = c.GetParty().GetNotes()
}

func (m *registers) Restore(_ context.Context, at Position, lines iter.Seq2[*pb.CheckpointLine, error]) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.restores++
	m.clear()
	for line, err := range lines {
		if err != nil {
			m.clear()
			return err
		}
		m.restored++
		switch l := line.GetLine().(type) {
		case *pb.CheckpointLine_Record:
			m.values[l.Record.GetName()] = l.Record.GetParty().GetNotes()
		case *pb.CheckpointLine_Tombstone:
			m.tombs[l.Tombstone.GetName()] = l.Tombstone
		case *pb.CheckpointLine_Answered:
			m.answered[l.Answered.GetRequestId()] = l.Answered
		case *pb.CheckpointLine_History:
			m.history[l.History.GetName()] = l.History.GetSeqs()
		}
	}
	m.at = at
	return nil
}

func (m *registers) Snapshot(context.Context) (Position, iter.Seq2[*pb.CheckpointLine, error], func(), error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	var lines []*pb.CheckpointLine
	for _, name := range slices.Sorted(maps.Keys(m.values)) {
		lines = append(lines, &pb.CheckpointLine{Line: &pb.CheckpointLine_Record{Record: &pb.Change{
			Name: name, Record: &pb.Change_Party{Party: &pb.Party{Name: name, DisplayName: "Register", Notes: m.values[name]}},
		}}})
	}
	for _, name := range slices.Sorted(maps.Keys(m.tombs)) {
		lines = append(lines, &pb.CheckpointLine{Line: &pb.CheckpointLine_Tombstone{Tombstone: m.tombs[name]}})
	}
	for _, id := range slices.Sorted(maps.Keys(m.answered)) {
		lines = append(lines, &pb.CheckpointLine{Line: &pb.CheckpointLine_Answered{Answered: m.answered[id]}})
	}
	for _, name := range slices.Sorted(maps.Keys(m.history)) {
		lines = append(lines, &pb.CheckpointLine{Line: &pb.CheckpointLine_History{History: &pb.RecordHistory{Name: name, Seqs: slices.Clone(m.history[name])}}})
	}
	each := func(yield func(*pb.CheckpointLine, error) bool) {
		for _, l := range lines {
			if !yield(l, nil) {
				return
			}
		}
	}
	return m.at, each, func() {}, nil
}

// state is everything that the machine holds, for comparison.
func (m *registers) state() string {
	at, lines, release, err := m.Snapshot(context.Background())
	if err != nil {
		return err.Error()
	}
	defer release()
	out := fmt.Sprintf("%d %v %v\n", at.Seq, at.Head, at.Time)
	for l := range lines {
		raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(l)
		out += fmt.Sprintf("%x %v\n", raw, err)
	}
	return out
}
