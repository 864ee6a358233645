package api

import (
	"cmp"
	"context"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// How far ahead alarms look.
const (
	alarmDays    = 60
	maxAlarmDays = 3660
)

// ListAlarms reckons all alarms anew for each page; the token says after which one the next page begins.
func (s licensingService) ListAlarms(ctx context.Context, req *pb.ListAlarmsRequest) (*pb.ListAlarmsResponse, error) {
	page, err := pageOf(req, caller(ctx))
	if err != nil {
		return nil, err
	}
	days := int(cmp.Or(req.GetDays(), alarmDays))
	if days < 1 || days > maxAlarmDays {
		return nil, field("days", "found %d; want 1 to %d, or 0 for %d", days, maxAlarmDays, alarmDays)
	}
	all, err := s.archive.Alarms(days)
	if err != nil {
		return nil, err
	}
	res := &pb.ListAlarmsResponse{}
	res.Alarms, res.NextPageToken = slice(page, all, func(a *pb.Alarm) string {
		return a.GetDay() + "\x00" + a.GetName() + "\x00" + a.GetKind()
	})
	return res, nil
}

// slice cuts a page out of a list that is in the order of key.
func slice[T any](p page, all []T, key func(T) string) (part []T, token string) {
	for i, item := range all {
		if p.after != "" && strings.Compare(key(item), p.after) <= 0 {
			continue
		}
		if len(part) == p.size {
			return part, p.next(key(all[i-1]), true)
		}
		part = append(part, item)
	}
	return part, ""
}
