package archive

import (
	"context"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// RecordDelivery adds a delivery, dated today, to a grant. One that is on record already is not recorded again.
func (a *Archive) RecordDelivery(ctx context.Context, by Caller, grant string, d *pb.Delivery) (*pb.Grant, error) {
	now, err := a.GetGrant(grant)
	if err != nil {
		return nil, err
	}
	wanted := proto.Clone(d).(*pb.Delivery)
	wanted.Day = a.Today().Format("2006-01-02")
	for _, known := range now.GetDeliveries() {
		if proto.Equal(known, wanted) {
			return now, nil
		}
	}
	request := &pb.Grant{Name: grant, Deliveries: []*pb.Delivery{d}}
	return first[*pb.Grant](a.submit(ctx, "RecordDelivery", by, []proto.Message{request}, func(v *View) error {
		old, ok, err := record[*pb.Grant](v, grant)
		if err != nil {
			return err
		}
		if !ok {
			return wrapName(ErrNotFound, grant)
		}
		made := proto.Clone(d).(*pb.Delivery)
		made.Day = v.today().Format("2006-01-02")
		next := proto.Clone(old).(*pb.Grant)
		next.Deliveries = append(next.Deliveries, made)
		return v.replace(next, old)
	}))
}
